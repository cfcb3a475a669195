"""The cautions that stand beside advice touching the sun, the tide or dark ground."""

from __future__ import annotations

from typing import Final

FILTERS_AND_EYES: Final = (
    "Photographic filters, neutral density and graduated ones, protect no eye: they may pass "
    "infrared and ultraviolet that cannot be seen. Never look at the sun through one, nor through "
    "an optical finder or a long lens pointed near the sun; compose on the screen, and only "
    "briefly."
)
EYES_IN_SHORT: Final = (
    "Never look for the sun through an optical finder; photographic neutral density and graduated "
    "filters are no eye protection."
)
"""Where there is room for one line."""

GROUND_IN_SHORT: Final = (
    "On rising tides and on dark or slippery ground, watch your footing before the picture; local "
    "rules and qualified people come first."
)
"""Likewise."""

IN_ONE_LINE: Final = (
    "Filters protect no eye: never look at the sun. Mind tides, soft and dark ground, local rules."
)
"""Where a terminal has one line for all of it."""

TIDES: Final = (
    "A long exposure is time in which the tide moves. Know the tide table and the way back "
    "before you set up, and never turn your back on the sea."
)
DARK_GROUND: Final = (
    "After sunset the way back is dark and may be slippery: carry two lights, mark the way in, "
    "and tell somebody when you will be back."
)
WHO_COMES_FIRST: Final = (
    "Local rules, signs and qualified people come before anything printed here."
)

AUDIT: Final = (FILTERS_AND_EYES, TIDES, DARK_GROUND, WHO_COMES_FIRST)
"""Beside what a whole audit says."""

LONG_EXPOSURE: Final = (FILTERS_AND_EYES, TIDES, WHO_COMES_FIRST)
"""Beside shutter times behind filters."""

LONG_EXPOSURE_AT_DUSK: Final = (FILTERS_AND_EYES, TIDES, DARK_GROUND, WHO_COMES_FIRST)
"""The same where the light falls."""

HISTORY: Final = (FILTERS_AND_EYES, WHO_COMES_FIRST)
"""Under what many shoots tell; a habit of dark ground or water bears its own."""
