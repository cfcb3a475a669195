"""Means that never go without their count and spread."""

from __future__ import annotations

from collections.abc import Iterable
from statistics import fmean, median, stdev

from auditor.model.history import Spread


def spread_of(values: Iterable[float | None]) -> Spread | None:
    """Return count, mean, median and spread of the values that are there; None without any."""
    known = sorted(value for value in values if value is not None)
    if not known:
        return None
    return Spread(
        count=len(known),
        mean=fmean(known),
        median=median(known),
        spread=stdev(known) if len(known) > 1 else None,
        least=known[0],
        most=known[-1],
    )


def lower_quartile(values: Iterable[float]) -> float:
    """Return the value that three quarters lie at or above, interpolated; at least one value."""
    ordered = sorted(values)
    place = 0.25 * (len(ordered) - 1)
    below = int(place)
    above = min(below + 1, len(ordered) - 1)
    return ordered[below] + (place - below) * (ordered[above] - ordered[below])
