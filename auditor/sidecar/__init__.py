"""XMP sidecars in and out: the marks of the photographer beside the raw files, never in them."""
