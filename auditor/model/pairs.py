"""What makes the figure of a filtered pair doubtful."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Doubt(StrEnum):
    """Why a filter's figure may be off; what ``value`` is stands beside each."""

    SKY_HELD_MORE = "sky held back more"
    """Stops by which the sky was held back more than the ground."""
    SKY_ALONE = "sky alone"
    WATER = "moving water"
    CORNERS = "corners held back more"
    """Stops in the corners beyond the middle; negative where the unfiltered frame has dark ones."""
    SCATTERED = "scattered light"
    """Stops by which it lifted the median tone."""
    NO_APERTURE = "no aperture told"
    UNEVEN = "uneven"
    """Stops by which parts of the picture disagree."""
    ONE_SIDE = "one side only"
    """Stops by which the colours of the light may have changed meanwhile, still in the cast."""
    COLOURS_UNEVEN = "colours uneven"
    """Stops by which parts of the picture disagree about the cast, which is not told then."""
    WEAK = "weak"
    CLOUD = "may be a cloud"
    NO_WHOLE_STOPS = "no whole stops"
    """Stops by which the figure leaves the nearest whole one."""
    POLARISER = "may be a polariser"
    """Stops by which the colours disagree over the picture."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PairDoubt:
    """One doubt.

    Parameters
    ----------
    code : Doubt
        What it is.
    value : float
        In stops; 0 where the code has no figure.
    """

    code: Doubt
    value: float = 0.0
