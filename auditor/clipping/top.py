"""The top of a histogram, and the pile-up measured at a place of it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from auditor.clipping.limits import (
    BEYOND_SHARE,
    CODE_OVER_NEXT,
    DISTANCE,
    LEAST_PIXELS,
    LEAST_SIGMA_DN,
    SIGMAS_DOWN,
    STEADIEST,
    STEEPEST,
    WIDEST,
)
from auditor.model.arrays import F64, I64
from auditor.model.measurement import Histogram, PileUp
from auditor.noise.estimate import NoiseModel
from auditor.sensor.code_gaps import code_step_at, code_steps_dn

ROUNDS = 6
COARSE_STEP_DN = 4
"""Finer codes are narrower than any pile-up."""


@dataclass(frozen=True, slots=True, eq=False)
class Top:
    """A histogram from DN 0, its sums, and what the noise is at every DN."""

    below: I64
    sigma_dn: F64
    step_dn: F64

    def between(self, first: I64, last: I64) -> I64:
        """Count pixels from ``first`` to ``last``, both included."""
        end = len(self.below) - 1
        return self.below[np.clip(last + 1, 0, end)] - self.below[np.clip(first, 0, end)]

    def first_with_few_above(self) -> int:
        """Return the lowest DN that could be a pile-up: hardly more lies above it than in it."""
        above = self.below[-1] - self.below
        few = int((above > BEYOND_SHARE * self.below[-1]).sum()) - 1
        windows = 3 * int(self.distance_dn(np.array([few]))[0]) + 6 * int(self.step_dn[few - 1])
        return max(0, few - windows - 2)

    def distance_dn(self, place: I64) -> I64:
        """Distance between windows at each DN."""
        return np.maximum(1, np.rint(DISTANCE * self.sigma_dn[place])).astype(np.int64)


def top_of(histogram: Histogram, black_dn: float, noise: NoiseModel) -> Top:
    """Return the top of a histogram with the least noise that light has at each level."""
    level = np.arange(histogram.last_dn + 1, dtype=np.float64)
    signal = level - black_dn
    sigma = noise.shot_sigma_dn(signal) if noise.known else signal * STEADIEST
    sigma = np.maximum(sigma, LEAST_SIGMA_DN)
    step = code_step_at(code_steps_dn(histogram), level)
    return Top(below_from_zero(histogram), sigma, step)


def below_from_zero(histogram: Histogram) -> I64:
    """Return how many pixels lie below each DN from 0, and below the one after the last."""
    return np.concatenate([np.zeros(histogram.first_dn, dtype=np.int64), histogram.below])


def heap_at(top: Top, place: int) -> PileUp | None:
    """Measure the pile-up at a place: centre, spread and lower edge; None where it is empty.

    The unclipped pixels under it are estimated from the density just below and taken off; the
    lower edge is put where the count of all pixels above equals the count of clipped ones.
    """
    above = top.below[-1] - top.below
    reach = int(top.distance_dn(np.array([place]))[0])
    start, centre, spread, clipped = max(0, place - reach), float(place), 0.0, 0.0
    for _ in range(ROUNDS):
        density = _density_under(top, start, centre, reach)
        clipped = float(above[start]) - density * max(0.0, centre - start)
        if clipped < LEAST_PIXELS:
            return None
        centre = level_with_above(top.below, 0.5 * clipped)
        upper = level_with_above(top.below, 0.1587 * clipped)
        # likewise below the centre, where unclipped pixels are among them
        low, end = max(0, int(centre) - 2000), min(len(above), int(np.ceil(centre)) + 1)
        level = np.arange(low, end, dtype=np.float64)
        excess = above[low:end] - density * np.maximum(0.0, centre - level + 0.5)
        enough = np.flatnonzero(excess >= 0.8413 * clipped)
        lower = float(low + enough[-1]) if len(enough) else centre
        spread = max(0.0, (upper - min(lower, centre)) / 2.0)
        wide = SIGMAS_DOWN * max(spread, upper - centre) + 1.5
        start = max(0, int(np.floor(centre - min(wide, WIDEST * reach))))
    edge, centre = _edge_and_centre(top, clipped, start, centre, spread)
    share = float(above[edge]) / float(top.below[-1])
    return PileUp(centre, edge, spread, share)


def _density_under(top: Top, start: int, centre: float, reach: int) -> float:
    """Unclipped pixels a DN between ``start`` and the centre of the pile-up.

    Carried on from two windows below ``start`` by the slope of the logarithm.
    """
    half = max(2, reach // 2)
    first = np.array([start - half, start - 2 * half], dtype=np.int64)
    near, far = (float(count) for count in top.between(first, first + half - 1))
    if near < 50.0 or far < 50.0:
        return near / half
    away = 0.5 + 0.5 * max(0.0, centre - start) / half
    slope = min(STEEPEST, max(-STEEPEST, math.log(near / far)))
    return near / half * math.exp(slope * away)


def level_with_above(below: I64, wanted: float) -> float:
    """Return the level that ``wanted`` pixels lie above, between bins by straight line."""
    bin_ = int(below.searchsorted(int(below[-1]) - math.floor(wanted))) - 1
    above = float(below[-1] - below[bin_])
    return bin_ - 0.5 + (above - wanted) / max(1.0, float(below[bin_ + 1] - below[bin_]))


def _edge_and_centre(
    top: Top, clipped: float, start: int, centre: float, spread_dn: float
) -> tuple[int, float]:
    """Return the DN from which on as many pixels lie as are clipped, and the centre of these.

    Of coarse data the next lower codes are taken in as long as they hold clipped pixels as well:
    a level between two codes falls on both, and the lower one then holds far more than those
    below. A pile-up within two codes begins with the first that does: none below holds any of it.
    """
    last = max(0, int(np.floor(centre + 0.5)))
    levels = np.arange(min(max(1, start), last), last + 1)
    off = np.abs(top.below[-1] - top.below[levels] - clipped)
    first = edge = int(levels[len(off) - 1 - int(np.argmin(off[::-1]))])
    step = round(float(top.step_dn[edge]))

    def far_more(code: int) -> bool:
        firsts = np.array([code, code - 2 * step])
        own, below = top.between(firsts, code + np.array([step - 1, -1]))
        return bool(own >= CODE_OVER_NEXT * max(below / 2.0, 2.0 * LEAST_PIXELS))

    # few pixels just under a pile-up of single codes lie far apart as well: its own codes decide
    codes = np.flatnonzero(np.diff(top.below[edge:]))
    in_steps = len(codes) <= 2 + (codes[-1] - codes[0]) // max(1, step)
    if step >= COARSE_STEP_DN and spread_dn <= step and in_steps:
        edge = next((code for code in range(edge, last + 1, step) if far_more(code)), edge)
    while step >= COARSE_STEP_DN and edge > 3 * step and far_more(edge - step):
        edge -= step
    if edge < first:
        counts = np.diff(top.below[edge:])
        centre = float(np.average(np.arange(edge, edge + len(counts)), weights=counts))
    return edge, centre
