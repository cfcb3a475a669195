"""Floor 1: The camera's own preview against the raw data."""
