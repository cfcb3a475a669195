"""Clipping too loose for the rule of noise: the same topmost mode in several colours.

Pixels of one sensor may clip within half a percent of one another, rows likewise, and codecs ring
about the edge of what is blown. Such a pile-up is as wide as an even sky's noise, so its shape
tells nothing. That it lies at one level in several colours does, where they hold different counts
of pixels: red, green and blue of one sky or wall differ, or fill the same area. No gain is needed
for that.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import combinations

import numpy as np

from auditor.clipping.limits import (
    LIKE_LEVELS,
    LIKE_SHARES,
    MODE_BEYOND,
    MODE_LEAST_PIXELS,
    MODE_LEAST_SHARE,
    MODE_OVER_VALLEY,
    MODE_REACH,
    MODE_WIDEST,
    TOGETHER,
)
from auditor.clipping.top import below_from_zero, heap_at, level_with_above, top_of
from auditor.model.arrays import F64, I64, U16
from auditor.model.measurement import Histogram, NoiseEstimate, PileUp
from auditor.noise.estimate import NoiseModel, PlaneView
from auditor.sensor.code_gaps import code_step_at, code_steps_dn
from auditor.sensor.histogram import upper_end_dn

FIRST_WINDOW = 0.003
"""Share of the signal over which a mode is first looked for; then a third of its spread."""

LOOKS = 4
UPPER_SIGMA = 0.3173
"""Share of a normal law's upper half that lies more than one standard deviation up."""

MODE_SPREADS = 18.0
"""A mode is measured as if its noise were so wide: from windows well under all of it."""

SAMPLES = 250_000
"""Cells that tell well enough where two planes are at their tops together."""


def common_modes(views: Sequence[PlaneView], found: Sequence[PileUp | None]) -> set[int]:
    """Return the planes whose topmost mode is clipping, as colours agree.

    Two colours agree when their modes lie at one level, hold different counts (one object of
    that very colour would fill both alike), and the scarcer lies within the other.
    """
    pairs = []  # of unlike colours at one level
    for a, b in combinations(range(len(views)), 2):
        first, second = found[a], found[b]
        if first is None or second is None or views[a].colour == views[b].colour:
            continue
        one_dn = first.level_dn - views[a].black.mean_dn
        other_dn = second.level_dn - views[b].black.mean_dn
        if abs(math.log(one_dn / other_dn)) <= LIKE_LEVELS:
            pairs.append((a, b))
    sure = any(_together(views, found, a, b) for a, b in pairs)
    return {index for pair in pairs for index in pair} if sure else set()


def top_mode(histogram: Histogram, black_dn: float) -> PileUp | None:
    """Return the topmost mode with a valley below it and hardly anything above it, or None."""
    top_dn = upper_end_dn(histogram, MODE_LEAST_SHARE)
    reach = top_dn - black_dn
    if histogram.total < MODE_LEAST_PIXELS or reach <= 0:
        return None
    below = below_from_zero(histogram)
    step = float(code_step_at(code_steps_dn(histogram), np.array([top_dn]))[0])
    first = int(black_dn + (1.0 - MODE_REACH) * reach)
    half, window, place, upper, spread = FIRST_WINDOW * reach, 1, 0, 0.0, 0.0
    for _ in range(LOOKS):
        window = max(1, round(max(half, step)))
        place = first + int(np.argmax(_density(below, window, first, len(below) - 1)))
        upper, spread = _upper_half(below, place)
        half = max(spread / 3.0, 1.0)
    wide, pixels = max(spread, 0.5), 2.0 * upper
    end = min(len(below) - 1, round(place + 5.0 * wide) + 1)
    far, near = max(0, round(place - 12.0 * wide)), max(1, round(place - 3.0 * wide))
    valley = float(_density(below, window, far, near).min(initial=np.inf))
    density = float(_density(below, window, place, place + 1)[0])
    stands_alone = (
        pixels >= MODE_LEAST_PIXELS
        and spread <= MODE_WIDEST * (place - black_dn)
        and below[-1] - below[end] <= MODE_BEYOND * pixels
        and density >= MODE_OVER_VALLEY * valley
    )
    return _heap(histogram, black_dn, place, spread) if stands_alone else None


def _density(below: I64, window: int, first: int, end: int) -> F64:
    """Pixels a DN within a window about each DN."""
    at = np.arange(max(0, first), min(end, len(below) - 1))
    low, high = np.maximum(at - window, 0), np.minimum(at + window + 1, len(below) - 1)
    density: F64 = (below[high] - below[low]) / (2.0 * window + 1.0)
    return density


def mode_at(histogram: Histogram, black_dn: float, level_dn: float) -> PileUp | None:
    """Measure the pile-up about a level that is known to be where the plane clips."""
    below = below_from_zero(histogram)
    place = min(max(0, round(level_dn)), len(below) - 2)
    return _heap(histogram, black_dn, place, _upper_half(below, place)[1])


def _upper_half(below: I64, place: int) -> tuple[float, float]:
    """Return how many pixels lie above a place, and the standard deviation that they make."""
    upper = float(below[-1] - below[place]) - 0.5 * float(below[place + 1] - below[place])
    return upper, level_with_above(below, UPPER_SIGMA * upper) - place


def _heap(histogram: Histogram, black_dn: float, place: int, spread: float) -> PileUp | None:
    wide = NoiseModel(NoiseEstimate(MODE_SPREADS * spread, 0.0))
    return heap_at(top_of(histogram, black_dn, wide), place)


def _together(views: Sequence[PlaneView], found: Sequence[PileUp | None], a: int, b: int) -> bool:
    """Whether two modes hold unlike counts, the more frequent where the scarcer is."""
    first, second = found[a], found[b]
    if first is None or second is None:
        return False
    if max(first.share, second.share) < LIKE_SHARES * min(first.share, second.share):
        return False
    tops: list[U16] = []  # one pixel of the plane in each cell of the pattern
    for view in (views[a], views[b]):
        y, x = view.lattice.places(view.plane)[0]
        down, across = view.lattice.pattern.shape
        tops.append(view.lattice.pixels[y::down, x::across])
    rows, cols = (min(top.shape[axis] for top in tops) for axis in (0, 1))
    every = max(1, rows * cols // SAMPLES)
    one = tops[0][:rows:every, :cols] >= first.from_dn
    other = tops[1][:rows:every, :cols] >= second.from_dn
    fewer = min(np.count_nonzero(one), np.count_nonzero(other))
    both = np.count_nonzero(one & other)
    return bool(fewer > 0 and both >= TOGETHER * fewer)
