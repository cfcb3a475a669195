"""Every number that black is judged by."""

from __future__ import annotations

from auditor.model.limit import Limit

# The masked border

BORDER_SIGMAS = Limit(
    5.0,
    "robust sigmas",
    "A pixel, a row or a column of the border further off than this is hot or not dark, and is "
    "left out.",
)
BORDER_PIXELS = Limit(100, "pixels", "Fewer pixels of a plane tell too little of its black.")

# Against the file's own level

TRUSTED_ERRORS = Limit(
    3.0, "standard errors", "The border contradicts the file when they lie further apart than this."
)
LARGEST_CORRECTION = Limit(
    0.05, "share of the range", "A border further off than this shows something else than black ..."
)
LARGEST_UNCLAIMED = Limit(
    0.25, "share of the range", "... or than this, where the file claims no black level at all."
)
DISAGREES_DN = Limit(
    1.0, "DN", "A border that differs from the file by this is worth saying: less is rounding."
)
