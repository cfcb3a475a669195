"""How fast the light drifted through the shoot, told by unfiltered frames of all set-ups.

Where a filtered frame has no unfiltered one on its other side, the pace of the light near that
time still tells what to take out. Within a set-up two unfiltered frames give the change of the
light between their middles; the pace at a moment is the mean of such changes near it, weighted
by their span and by how near they lie.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from auditor.group.drift import Series
from auditor.group.limits import (
    FASTEST_STOPS_PER_S,
    JUMP_BEFOREHAND,
    JUMP_SPAN_S,
    JUMP_STOPS,
    JUMPS_UNTOLD,
    LEAST_SPAN_S,
    LONGEST_SPAN_S,
    PACE_REACH_S,
    SHORTEST_SPAN_S,
    UNSTEADY_STOPS_PER_S,
)
from auditor.model.arrays import F64, Bool

FADE_S = 300.0
"""Weight falls to 1/e within this."""


class Jumps(NamedTuple):
    """How often the light jumped from one unfiltered frame to the next, and of how many changes."""

    jumped: int = 0
    changes: int = 0


@dataclass(frozen=True, slots=True, eq=False)
class Pace:
    """Changes of the light over one body's frames.

    Parameters
    ----------
    at_s, span_s : arrays, shape (n,)
        Middle and length of each stretch between two unfiltered frames, in order of the middles.
    rates : array, shape (n, 3)
        Stops a second: of green; of red and of blue less green, NaN where unknown.
    of_all : Jumps, optional
        Of all evenings of the body, where these are some of them.
    """

    at_s: F64
    span_s: F64
    rates: F64
    of_all: Jumps | None = None

    def surrounds(self, first_s: float, last_s: float) -> bool:
        """Whether unfiltered frames tell the pace both before and after a stretch of time."""
        begin, end = self.at_s - self.span_s / 2.0, self.at_s + self.span_s / 2.0
        near = (end >= first_s - PACE_REACH_S) & (begin <= last_s + PACE_REACH_S)
        return bool((near & (begin <= first_s)).any() and (near & (end >= last_s)).any())

    @property
    def jumps(self) -> Jumps:
        """How often the light jumped between those so near in time that daylight would not show."""
        near = self.span_s <= JUMP_SPAN_S
        change = (np.abs(self.rates[near, 0]) - FASTEST_STOPS_PER_S) * self.span_s[near]
        return Jumps(int((change > JUMP_STOPS).sum()), int(near.sum()))

    @property
    def jump_chance(self) -> float:
        """How often the light jumped from one unfiltered frame to the next, as under clouds.

        Few changes say little.
        """
        jumps, untold = self.of_all or self.jumps, JUMPS_UNTOLD * JUMP_BEFOREHAND
        return (float(jumps.jumped) + untold) / (jumps.changes + JUMPS_UNTOLD)

    def bend(self, first_s: float, last_s: float) -> float | None:
        """Return by how much the pace changes between two moments, stops a second squared.

        Told by the nearest stretches before and after; None where either is missing, or where
        the light jumps.
        """
        near = np.abs(self.at_s - (first_s + last_s) / 2.0) <= PACE_REACH_S
        before = np.flatnonzero(near & (self.at_s + self.span_s / 2.0 <= first_s + 1.0))
        after = np.flatnonzero(near & (self.at_s - self.span_s / 2.0 >= last_s - 1.0))
        if not len(before) or not len(after) or self.jump_chance > JUMP_BEFOREHAND:
            return None
        i, j = before[self.at_s[before].argmax()], after[self.at_s[after].argmin()]
        return float((self.rates[j, 0] - self.rates[i, 0]) / (self.at_s[j] - self.at_s[i]))

    def rate_at(self, moment_s: float) -> float | None:
        """Return the pace in stops a second at a moment; None where it is not known."""
        return self._at(moment_s, 0)

    def tint_rates_at(self, moment_s: float) -> dict[str, float] | None:
        """Return by how much red and blue rise over green then, stops a second; None if unknown."""
        red, blue = (self._at(moment_s, column) for column in (1, 2))
        return None if red is None or blue is None else {"R": red, "B": blue}

    def _at(self, moment_s: float, column: int) -> float | None:
        reach = np.array([-PACE_REACH_S, PACE_REACH_S])
        near = slice(*np.searchsorted(self.at_s, moment_s + reach * 1.001))
        rate, away = self.rates[near, column], np.abs(self.at_s[near] - moment_s)
        fading = self.span_s[near] * np.exp(-away / FADE_S)
        weight = fading * (away <= PACE_REACH_S) * np.isfinite(rate)
        total = float(weight.sum())
        if total < LEAST_SPAN_S:
            return None
        rate = np.nan_to_num(rate)
        mean = float((weight * rate).sum()) / total
        scatter = float(np.sqrt((weight * (rate - mean) ** 2).sum() / total))
        return mean if scatter <= max(UNSTEADY_STOPS_PER_S, 0.4 * abs(mean)) else None


def pace_of(setups: Iterable[tuple[Series, Bool]]) -> Pace:
    """Gather the changes between neighbouring unfiltered frames of one body's set-ups.

    Parameters
    ----------
    setups : iterable of (Series, flagged)
        Each set-up's frames in order of time, and which of them were filtered. Set-ups whose
        files do not all tell their time say nothing of a pace.
    """
    stretches: list[tuple[float, ...]] = []
    for series, flagged in ((series, flagged) for series, flagged in setups if series.timed):
        untold = np.full((len(flagged), 2), np.nan)
        tints = untold if series.tint_stops is None else series.tint_stops
        light = np.column_stack([series.level_stops, tints])
        last = None
        for i in np.flatnonzero(~flagged & np.isfinite(series.level_stops)):
            at = float(series.middle_s[i])
            if last is not None:
                span = at - float(series.middle_s[last])
                if span < SHORTEST_SPAN_S:
                    continue
                if span <= LONGEST_SPAN_S:
                    stretches.append((at - span / 2.0, span, *((light[i] - light[last]) / span)))
            last = i
    table = np.array(stretches, dtype=np.float64).reshape(-1, 5)
    table = table[np.argsort(table[:, 0], kind="stable")]
    return Pace(table[:, 0], table[:, 1], table[:, 2:])
