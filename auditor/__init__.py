"""Measure what the sensor really recorded, for a whole card of raw files at once.

The package is a house of floors; arrows point down only. See ``DEVELOPERS.md``.
This module stays light: the command must answer before a hand leaves the key.
"""

__version__ = "0.1.0"

PROJECT_URL = "https://example.org/exposure-auditor"
"""Where the project lives: faults are reported there."""
