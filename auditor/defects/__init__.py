"""Floor 1: hot pixels and damage: what is not of the picture."""
