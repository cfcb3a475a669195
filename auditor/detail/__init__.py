"""Floor 1: fine detail and whether the camera stood still."""
