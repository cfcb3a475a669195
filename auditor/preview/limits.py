"""Every number that the camera's preview is judged by."""

from __future__ import annotations

from auditor.model.limit import Limit

# What it shows

BAR_CODE = Limit(
    12, "of 255", "Bars that fill up a preview of another shape are no brighter than this."
)
ASPECT_SLACK = Limit(
    0.01,
    "share of the shape",
    "Bars are looked for where the preview's shape differs from the sensor's by more.",
)
CROP_SLACK = Limit(
    0.04,
    "share of the shape",
    "Without bars, a shape that differs by more is that of another section.",
)
LEAST_AGREEMENT = Limit(
    0.5, "correlation", "Less like the raw data than this, the preview shows another picture."
)

# At which raw signal it is white

EVEN_RATIO = Limit(
    1.25,
    "times the mean",
    "A place is even when its brightest pixel is no brighter than this, noise aside.",
)
NOISE_SIGMAS = Limit(
    4.0, "noise sigmas", "What the brightest of its pixels may add by noise alone."
)
PURE_SHARE = Limit(
    0.05, "share of a place", "A place is white, or not, when all but this share of it is."
)
LEAST_PLACES = Limit(6, "places", "Fewer on either side of the threshold do not tell it.")
LARGEST_GAP = Limit(
    1.35,
    "ratio of signals",
    "Neighbouring signals further apart across the threshold do not tell it.",
)
WORST_PARTING = Limit(
    0.3, "share of the smaller side", "With more places on its wrong side there is no threshold."
)
CORNERS_LIFTED = Limit(
    0.1,
    "stops",
    "Corners that every channel of the preview shows brighter by more at the same raw signal were "
    "corrected for the lens: it clips elsewhere in each place.",
)

# Findings

HIDDEN_SHARE = Limit(
    1e-3, "share of the frame", "Less that is blown is glitter, which no preview shows."
)
