"""Floor 2: XMP sidecars, in and out."""
