"""Floor 2: ways of spreading work; each knows only how to map a function over tasks."""
