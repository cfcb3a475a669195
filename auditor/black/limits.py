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
BORDER_CUT = Limit(
    0.02, "share of the pixels", "With more of them at zero, zero cuts off what black's noise is."
)
BORDER_AT_LOWEST = Limit(
    0.15,
    "share of the pixels",
    "With more of them at their lowest value, and others far over it, black was cut off there.",
)
BORDER_LIT = Limit(
    1.3,
    "times the variance",
    "Noisier on one side than on the other, or than other parts of the border: light gets in.",
)

PARTS = Limit(8, "parts", "A border's longer side is cut into so many, to see if light gets in.")
GROWS_SURE = Limit(
    5.0, "standard errors", "It does where noise grows with the level of the parts by so many."
)
HOT_ALL_OVER = Limit(
    0.1, "share of the pixels", "A part of a border with more hot pixels is lit: light gets in."
)
LIGHT_MATTERS = Limit(
    0.1, "share of the variance", "Parts that light makes noisier by more tell nothing of black."
)

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

# Against the shoot's dark frames

LARGEST_DARK = Limit(
    0.01, "share of the range", "What lies further off black than this is no dark frame."
)
DARK_CUT = Limit(
    0.001, "share of the pixels", "With more of them at zero, zero has cut the noise off."
)
DARK_WIDEST = Limit(
    7.0,
    "standard deviations",
    "Of a dark frame 99 % of the pixels lie within this (5.2 of a normal law).",
)
DARK_EVEN = Limit(
    0.05,
    "share of its level",
    "Parts and colours of a dark frame differ by no more: lenses darken the corners, and light "
    "differs from colour to colour.",
)
DARK_EVEN_UNDER = Limit(
    0.25, "share of its level", "Likewise under black, where no light can be the reason."
)
DARK_LONGEST = Limit(
    1.0,
    "s",
    "A dark frame tells the black of frames that were exposed as long as it, or longer; up to this "
    "of all: there is no dark current to speak of.",
)
