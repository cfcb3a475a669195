"""Floor 0: facts. Frozen records with units in their names, and nothing that reads or writes."""
