"""Floor 1: which frames belong together, and what that tells."""
