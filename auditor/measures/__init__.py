"""Floor 1: all measures of one mosaic in one pass over its pixels."""
