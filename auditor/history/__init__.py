"""Floor 1: what the audits of many shoots tell together."""
