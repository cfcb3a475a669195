"""Floor 1: the trade's arithmetic of light: exposure value, filters, optics, the sun."""
