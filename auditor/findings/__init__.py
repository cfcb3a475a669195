"""Floor 1: what a rule sees, and how it speaks."""
