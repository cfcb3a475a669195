"""Floor 1: arrays in, measurements out. One quantity a file."""
