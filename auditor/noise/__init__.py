"""Floor 1: read noise, gain and the noise floor: all of blocked and clean."""
