"""Recognising a filter by its density in each channel, and the light by its cast."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import combinations_with_replacement

import numpy as np

from auditor.group.limits import (
    CAST_TOLERANCE_STOPS,
    DAYLIGHT_ASIDE,
    DAYLIGHT_REACH_STOPS,
    LEAST_TOLERANCE_STOPS,
    MOST_TOLERANCE_STOPS,
    RED_FOR_BLUE,
    SPREADS,
)
from auditor.model.arrays import F64, Bool
from auditor.model.history import KnownFilter


def recognised(
    stops: Mapping[str, float], cast: Mapping[str, float], known: Sequence[KnownFilter]
) -> str | None:
    """Return the name of the known filter, or of two stacked ones, that was before the lens.

    Parameters
    ----------
    stops : mapping
        Channel to measured stops.
    cast : mapping
        "R", "B": measured cast in stops.
    known : sequence of KnownFilter

    Returns
    -------
    str or None
        None where none fits; the best where several do. Densities and casts add in a stack.
    """
    singles = [(filter_,) for filter_ in known]
    found = _best(stops, cast, singles)
    if found is None:
        found = _best(stops, cast, list(combinations_with_replacement(known, 2)))
    return None if found is None else " + ".join(filter_.name for filter_ in found)


def _best(
    stops: Mapping[str, float],
    cast: Mapping[str, float],
    stacks: Sequence[tuple[KnownFilter, ...]],
) -> tuple[KnownFilter, ...] | None:
    fits = []
    for place, stack in enumerate(stacks):
        spread = sum(filter_.spread_stops for filter_ in stack)
        allowed = min(MOST_TOLERANCE_STOPS, max(LEAST_TOLERANCE_STOPS, SPREADS * spread))
        misses = []  # as shares of what is allowed
        for channel, measured in stops.items():
            expected = [f.stops_by_channel.get(channel) for f in stack]
            told = [value for value in expected if value is not None]
            if len(told) == len(expected):
                misses.append(abs(measured - sum(told)) / allowed)
        for channel, measured in cast.items():
            tints = [f.cast_stops.get(channel, 0.0) for f in stack]
            misses.append(abs(measured - sum(tints)) / (CAST_TOLERANCE_STOPS * len(stack)))
        if misses and max(misses) <= 1.0:
            fits.append((max(misses), place))
    return stacks[min(fits)[1]] if fits else None


def of_daylight(red: F64, blue: F64, own_cast: float) -> Bool:
    """Tell which casts are no cast at all, or such as daylight has when its colour changes.

    Sun and sky together are of some 5500 K, an overcast sky and open shade of 6000 to 7500: what
    is held back then is more of the red and less of the blue, in a proportion that the CIE
    daylight illuminants (CIE 15) tell and cameras keep roughly.

    Parameters
    ----------
    red, blue : array, shape (n,)
        Stops that each was held back beyond green; NaN, where one is not told, counts as none.
    own_cast : float
        What the filter's own cast, or the error of it, may put aside of daylight's line, stops.
    """
    red, blue = np.nan_to_num(red), np.nan_to_num(blue)
    aside = np.abs(red + RED_FOR_BLUE * blue)
    near = aside <= own_cast + DAYLIGHT_ASIDE * np.abs(blue)
    return np.asarray(near & (np.abs(blue) <= DAYLIGHT_REACH_STOPS))
