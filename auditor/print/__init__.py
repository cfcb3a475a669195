"""Floor 1: what a print can hold of a frame."""
