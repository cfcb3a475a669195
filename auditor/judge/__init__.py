"""Floor 1: opinions, worked out again from the facts each time."""
