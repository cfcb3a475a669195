"""Every number that detail and steadiness are judged by."""

from __future__ import annotations

from auditor.model.limit import Limit

# Sharpness

SOME_DETAIL = Limit(
    1.8, "times the noise", "A tile with so much detail counts for the sharpness of a frame."
)
SHARP_TILES = Limit(8, "tiles", "So many tell it: small tiles scatter.")
SHARP_SHARE = Limit(0.005, "share of the tiles", "And at least this.")

# Steadiness

STRUCTURED = Limit(1.6, "times the noise", "From it on a tile holds structure.")
LIT_FLOORS = Limit(8.0, "noise floors", "Above it a tile's contrast is trusted.")
STEADY_TILES = Limit(40, "tiles", "Fewer tiles with structure do not tell two frames apart.")
SAME_TONE_STOPS = Limit(0.05, "stops", "What is static keeps its tone within this ...")
MOST = Limit(0.6, "share", "... in most of the frames and most tiles round it.")
FOCUS_RATIO = Limit(
    1.25,
    "times",
    "Focus was moved where one frame is so much sharper in front and another at the back; a shake "
    "softens both.",
)
MOVED_TILES = Limit(
    25, "tiles", "A clump of so many is drawn as a place that moved: five by five, seen all round."
)
SOFT_PATCH = Limit(
    0.6,
    "share of the sharpest",
    "A tile so much softer than in the sharpest sibling has moved by itself.",
)

# Patches

PATCH_OVER_SHARE = Limit(0.01, "share of the patch", "Where more is blown a patch is not kept.")
PATCH_FLAT = Limit(
    1.1,
    "times the noise",
    "Less contrast than that, and a patch holds nothing to place a frame by: it is not kept.",
)
