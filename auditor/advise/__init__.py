"""Floor 1: what to keep and what to do next time."""
