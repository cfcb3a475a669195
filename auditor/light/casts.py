"""The colour that a filter lends: one rule for names of filters, findings and reports.

Standard library only.
"""

from __future__ import annotations

from collections.abc import Mapping

LEAST_CAST_STOPS = 0.1
"""Red or blue held back by so much more or less than green is a cast, told to a hundredth."""


def strongest_cast(cast_stops: Mapping[str, float]) -> tuple[str, float] | None:
    """Return the colour that is held back most unlike green, and by how many stops.

    Parameters
    ----------
    cast_stops : mapping
        "R", "B": stops held back beyond green's.

    Returns
    -------
    (str, float) or None
        None where the filter is neutral: the figures as they are told, rounded to a hundredth,
        all lie under a tenth of a stop.
    """
    strongest = max(cast_stops.items(), key=lambda cast: abs(cast[1]), default=None)
    if strongest is None or round(abs(strongest[1]), 2) < LEAST_CAST_STOPS:
        return None
    return strongest


def cast_word(cast_stops: Mapping[str, float]) -> str:
    """Name the colour that a filter lends: "warm", "cool", "green", "magenta" or "neutral".

    Parameters
    ----------
    cast_stops : mapping
        "R", "B": stops held back beyond green's. Blue held back more than red is warm, green
        held back more than both is magenta.
    """
    if strongest_cast(cast_stops) is None:
        return "neutral"
    red, blue = cast_stops.get("R", 0.0), cast_stops.get("B", 0.0)
    words = {"warm": blue - red, "cool": red - blue}
    words |= {"green": (red + blue) / 2.0, "magenta": -(red + blue) / 2.0}
    return max(words, key=lambda name: words[name])
