"""Floor 1: the lattice of pixels and its plain sums: histogram, cells and tiles."""
