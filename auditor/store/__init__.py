"""Floor 2: the memory of all shoots so far."""
