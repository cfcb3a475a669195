"""Floor 2: the door out. Page records first, then formatting only."""
