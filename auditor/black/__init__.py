"""Floor 1: what each pixel records without light."""
