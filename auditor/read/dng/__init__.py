"""DNG, as its specification 1.7 has it: tags, pixels, curves; no LibRaw."""
