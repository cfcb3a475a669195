"""Graduated filters as they are sold, and which of them balances a sky.

Standard library only.
"""

from __future__ import annotations

from auditor.model.numbers import counted_stops

KEPT_STOPS = 1.0
"""Common practice: the sky is left a stop brighter than the ground, as the eye expects it."""

KEPT_SLACK_STOPS = 0.5
"""A sky left so near to that is balanced: strengths come in whole stops."""

COMMON_STOPS = (1.0, 2.0, 3.0, 4.0)
"""Graduated filters are sold at densities 0.3, 0.6, 0.9 and 1.2."""


DENSITY_PER_STOP = 0.3
"""So they are named: a third of a density more is a stop, truly 0.301 (common practice)."""


def nearest_strength(stops: float) -> float:
    """Return the common strength nearest to measured stops."""
    return min(COMMON_STOPS, key=lambda strength: abs(strength - stops))


def balancing_strength(over_stops: float, at_line_stops: float | None = None) -> float | None:
    """Return the common strength that leaves the sky about a stop over the ground.

    Parameters
    ----------
    over_stops : float
        How much brighter the sky is than the ground without a filter, by their medians.
    at_line_stops : float, optional
        The same just above and below the line where the sky ends. No more is taken from the sky:
        water that mirrors it would be the brighter of the two then (common practice).

    Returns
    -------
    float or None
        None where no filter is needed, or none would do.
    """
    wanted = over_stops - KEPT_STOPS
    if at_line_stops is not None:
        wanted = min(wanted, at_line_stops)
    return None if wanted < COMMON_STOPS[0] / 2 else nearest_strength(wanted)


def grad_name(stops: float, kind: str = "") -> str:
    """Name a filter by its strength: ``2-stop (0.6) grad``, ``3-stop (0.9) hard grad``."""
    return " ".join(f"{stops:g}-stop ({DENSITY_PER_STOP * stops:.1f}) {kind} grad".split())


def left_brighter(over_stops: float, strength_stops: float) -> str:
    """Say by how much a filter leaves the sky over the ground: ``about a stop brighter``."""
    left = over_stops - strength_stops
    if abs(left - KEPT_STOPS) <= KEPT_SLACK_STOPS:
        return "about a stop brighter"
    return f"{counted_stops(left)} brighter"
