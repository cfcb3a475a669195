"""Floor 1: where a channel clips, what lies above, and what follows."""
