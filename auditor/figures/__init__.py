"""Floor 1: the figures of a frame and of its channels, from what was measured and settled."""
