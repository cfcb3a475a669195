"""Floor 1: what the lens does to the light on its way: shading towards the corners."""
