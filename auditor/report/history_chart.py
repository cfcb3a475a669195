"""What the drawings of the history share, whether page or picture: series, axes, places."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise

from auditor.model.numbers import stops_text, whole_share_text
from auditor.report.history_page import FilterMark, FilterTrend, SpareBar

MOST_LINES = 8
LEAST_SNR_STOPS = -2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class MiddleAxis:
    """Stops to either side of a marking, which lies in the middle.

    Parameters
    ----------
    left, right : float
        Where it ends.
    reach : float
        Stops at each end; what lies beyond is drawn there.
    """

    left: float
    right: float
    reach: float

    def x(self, off: float) -> float:
        """Return the place of so many stops off the marking, to a tenth."""
        share = min(max(off / self.reach, -1.0), 1.0)
        return round((self.left + self.right + share * (self.right - self.left)) / 2.0, 1)


@dataclass(frozen=True, slots=True)
class Dot:
    """One channel of one filter."""

    colour: str
    x: float
    low: float
    high: float
    letter_x: float


def dots_of(mark: FilterMark, axis: MiddleAxis, gap: float) -> tuple[Dot, ...]:
    """Lay out the channels of a filter, their letters no nearer than ``gap``."""
    places = [axis.x(off) for off in mark.offs.values()]
    return tuple(
        Dot(colour, x, axis.x(off - mark.spread), axis.x(off + mark.spread), letter)
        for (colour, off), x, letter in zip(
            mark.offs.items(), places, spread_out(places, gap), strict=True
        )
    )


def span_of(trends: Sequence[FilterTrend]) -> tuple[date, date]:
    """Return the first and the last evening of some filters."""
    days = [when for trend in trends for when, _ in trend.days]
    return min(days, default=date.min), max(days, default=date.min)


def axis_stops(bars: Sequence[SpareBar]) -> int:
    """Return how many whole stops the axis of the bars must hold, at least two."""
    return max(2, math.ceil(max((bar.high for bar in bars), default=0.0)))


def reach_stops(marks: Sequence[FilterMark | FilterTrend]) -> float:
    """Return how far an axis goes to either side of the marking, in stops: half a stop or more."""
    return max(0.5, math.ceil(2.0 * max((mark.most_off for mark in marks), default=0.0)) / 2.0)


def spare_text(bar: SpareBar) -> str:
    """Say what a bar shows: stops left, and how often a channel was lost."""
    lost = f", {whole_share_text(bar.lost_share)} lost" if bar.lost_share else ""
    return f"{stops_text(bar.median)} left{lost}"


def spread_out(places: Sequence[float], gap: float) -> list[float]:
    """Move letters apart until none lies nearer to its neighbour than ``gap``, order kept."""
    order = sorted(range(len(places)), key=lambda index: places[index])
    moved = list(places)
    for before, after in pairwise(order):
        moved[after] = max(moved[after], moved[before] + gap)
    shift = sum(moved) / max(1, len(moved)) - sum(places) / max(1, len(places))
    return [round(place - shift, 1) for place in moved]
