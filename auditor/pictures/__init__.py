"""Floor 1: small and large pictures from the raw data, plainly rendered."""
