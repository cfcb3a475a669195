"""Floor 2: the door in. Finds raw files, reads what they say, decodes them."""
