"""The pile-up of clipped pixels at the top of a histogram: found where there is one, never made up.

Light is never steadier than its own shot noise. Whatever the scene, the histogram of unclipped
pixels is some distribution blurred by at least the noise ``sigma`` of that level, and such a
curve can nowhere bend more sharply than the normal law itself: for any level ``x`` and any
distance ``d``, the counts of three equal windows obey ::

    N(x - d) N(x + d) >= N(x)² exp(-(d / sigma)²)

A bright even sky, a white wall, the edge of a scene all keep to it. Pixels cut at one level (or
within a few DN of it) cannot: they are a pile-up with nothing above. A pile-up is accepted when the
counts break the rule beyond all chance, with the noise taken well below its measured value.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from auditor.clipping.limits import (
    BEYOND_SHARE,
    DISTANCE,
    FAR_BELOW,
    FEW,
    LEAST_EVIDENCE,
    LEAST_PIXELS,
    LEAST_RANGE_SHARE,
    LEAST_SIGMA_DN,
    LEAST_SIGNAL,
    NARROW_WINDOW,
    NOISE_SHARE,
    SIGMAS_DOWN,
    STEADIEST,
    STEEPEST,
    WIDE_WINDOW,
    WIDEST,
)
from auditor.model.arrays import F64, I64
from auditor.model.measurement import Histogram, PileUp
from auditor.noise.estimate import NoiseModel, PlaneView
from auditor.sensor.code_gaps import code_step_at, code_steps_dn
from auditor.sensor.histogram import upper_end_dn

ROUNDS = 6


@dataclass(frozen=True, slots=True, eq=False)
class _Top:
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


def find_pile_ups(
    views: Sequence[PlaneView], noises: Sequence[NoiseModel], bit_depth: int
) -> tuple[PileUp | None, ...]:
    """Find the pile-up of each plane of one sensor.

    Channels clip close together. A pile-up far below what another channel records is dropped: it
    was made by something else than the sensor.
    """
    pile_ups = [
        find_pile_up(view.histogram, view.black.mean_dn, view.white_dn, bit_depth, noise)
        for view, noise in zip(views, noises, strict=True)
    ]
    reach = max((upper_end_dn(v.histogram, FEW) - v.black.mean_dn for v in views), default=0.0)
    return tuple(
        None if heap is None or reach > FAR_BELOW * (heap.level_dn - view.black.mean_dn) else heap
        for heap, view in zip(pile_ups, views, strict=True)
    )


def find_pile_up(
    histogram: Histogram, black_dn: float, white_dn: float, bit_depth: int, noise: NoiseModel
) -> PileUp | None:
    """Find the pile-up of clipped pixels of one plane.

    Parameters
    ----------
    white_dn : float
        The file's claim; only asked where the noise is not known.
    bit_depth : int
        Likewise: the largest value that can be recorded.

    Returns
    -------
    PileUp or None
        None when the plane does not clip, or not enough pixels do to tell.
    """
    if histogram.total < LEAST_PIXELS:
        return None
    top = _top_of(histogram, black_dn, noise)
    place = _best_place(top, black_dn, white_dn, noise)
    if place is None:
        return None
    heap = _heap_at(top, place)
    if heap is None or not (noise.known or _near_claim(heap, white_dn, black_dn, bit_depth, noise)):
        return None
    return heap


def _top_of(histogram: Histogram, black_dn: float, noise: NoiseModel) -> _Top:
    counts = np.zeros(histogram.last_dn + 1, dtype=np.int64)
    counts[histogram.first_dn :] = histogram.counts
    level = np.arange(len(counts), dtype=np.float64)
    signal = level - black_dn
    sigma = noise.shot_sigma_dn(signal) if noise.known else signal * STEADIEST
    sigma = np.maximum(sigma, LEAST_SIGMA_DN)
    step = code_step_at(code_steps_dn(histogram), level)
    return _Top(np.concatenate([[0], np.cumsum(counts)]), sigma, step)


def _best_place(top: _Top, black_dn: float, white_dn: float, noise: NoiseModel) -> int | None:
    """Return the DN where the rule is broken most, if it is broken at all."""
    least = black_dn + max(
        LEAST_RANGE_SHARE * (white_dn - black_dn),
        LEAST_SIGNAL * (noise.estimate.read_noise_dn or 0.0),
    )
    first = max(1, int(np.ceil(least)), top.first_with_few_above())
    places = np.arange(first, len(top.sigma_dn), dtype=np.int64)
    best, most = None, float(LEAST_EVIDENCE)
    for window_sigmas in (WIDE_WINDOW, NARROW_WINDOW):
        usable, evidence = _breaks(top, places, window_sigmas)
        if len(usable) and float(evidence.max()) > most:
            best, most = int(usable[evidence.argmax()]), float(evidence.max())
    return best


def _breaks(top: _Top, place: I64, window_sigmas: float) -> tuple[I64, F64]:
    """Return where a pile-up ends the histogram, and how plainly it breaks the rule."""
    sigma = top.sigma_dn[place]
    window = np.rint(np.maximum(window_sigmas * sigma, top.step_dn[place] - 1.0)).astype(np.int64)
    distance = np.maximum(2 * window + 1, top.distance_dn(place))
    heap = top.between(place - window, place + window)
    beyond = top.below[-1] - top.below[np.minimum(place + distance + window + 1, len(top.sigma_dn))]
    usable = (heap >= LEAST_PIXELS) & (beyond <= BEYOND_SHARE * heap)
    place, window, distance, heap, sigma = (
        values[usable] for values in (place, window, distance, heap, sigma)
    )
    under = top.between(place - distance - window, place - distance + window)
    over = top.between(place + distance - window, place + distance + window)
    allowed = np.exp(-((distance / (NOISE_SHARE * sigma)) ** 2))
    return place, _evidence(heap, under, over, allowed)


def _evidence(heap: I64, under: I64, over: I64, allowed: F64) -> F64:
    """Twice the log likelihood ratio of three counts, free against held to the rule.

    Held to the rule, the expected counts are ``a``, ``sqrt(k) a e^u`` and ``sqrt(k) a e^-u``
    with ``k`` the allowed ratio and ``u`` the likeliest tilt.
    """
    evidence = np.zeros(len(heap))
    broken = np.flatnonzero(
        under.astype(np.float64) * over < allowed * heap.astype(np.float64) ** 2
    )
    a, b, c = (x[broken].astype(np.float64) for x in (heap, under, over))
    total, root_k = a + b + c, np.sqrt(np.maximum(allowed[broken], 1e-300))
    tilt = _tilt(np.abs(b - c) / total, root_k)
    log_a = np.log(total) - np.log1p(2.0 * root_k * np.cosh(tilt))
    held = total * log_a + (b + c) * np.log(root_k) + np.abs(b - c) * tilt
    free = _n_log_n(a) + _n_log_n(b) + _n_log_n(c)
    evidence[broken] = 2.0 * (free - held)
    return evidence


def _tilt(lean: F64, root_k: F64) -> F64:
    """Return the likeliest ``u >= 0``, where ``2 s sinh u = r (1 + 2 s cosh u)``.

    With ``r`` the difference of the outer counts over the sum of all three, and ``s = sqrt(k)``.
    """
    root = np.sqrt(lean**2 + 4.0 * root_k**2 * (1.0 - lean**2))
    tilt: F64 = np.log((lean + root) / (2.0 * root_k * (1.0 - lean)))
    return tilt


def _n_log_n(count: F64) -> F64:
    result: F64 = count * np.log(np.maximum(count, 1.0))
    return result


def _heap_at(top: _Top, place: int) -> PileUp | None:
    """Measure the pile-up: its centre, its spread, and from where it counts.

    The unclipped pixels under it are estimated from the density just below and taken off; the
    lower edge is put where the count of all pixels above equals the count of clipped ones.
    """
    above = top.below[-1] - top.below
    reach = int(top.distance_dn(np.array([place]))[0])
    start, centre, spread, clipped = max(0, place - reach), float(place), 0.0, 0.0
    for _ in range(ROUNDS):
        density = _density_under(top, start, centre, reach)
        clipped = float(above[start]) - density * max(0.0, centre - start)
        if clipped < LEAST_PIXELS / 2:
            return None
        centre = _level_with_above(above, 0.5 * clipped)
        upper = _level_with_above(above, 0.1587 * clipped)
        lower = _level_with_excess(above, 0.8413 * clipped, centre, density)
        spread = max(0.0, (upper - min(lower, centre)) / 2.0)
        wide = SIGMAS_DOWN * max(spread, upper - centre) + 1.5
        start = max(0, int(np.floor(centre - min(wide, WIDEST * reach))))
    edge = _edge(above, clipped, start, centre)
    share = float(above[edge]) / float(top.below[-1])
    return PileUp(centre, edge, spread, share)


def _density_under(top: _Top, start: int, centre: float, reach: int) -> float:
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


def _level_with_above(above: I64, wanted: float) -> float:
    """Return the level that ``wanted`` pixels lie above, between bins by straight line."""
    bin_ = int((above > wanted).sum()) - 1
    inside = (float(above[bin_]) - wanted) / max(1.0, float(above[bin_] - above[bin_ + 1]))
    return bin_ - 0.5 + inside


def _level_with_excess(above: I64, wanted: float, centre: float, density: float) -> float:
    """Likewise below the centre, where unclipped pixels are among them."""
    level = np.arange(len(above), dtype=np.float64)
    excess = above - density * np.maximum(0.0, centre - level + 0.5)
    low = max(0, int(centre) - 2000)
    enough = np.flatnonzero(excess[low : int(np.ceil(centre)) + 1] >= wanted)
    return float(low + enough[-1]) if len(enough) else centre


def _edge(above: I64, clipped: float, start: int, centre: float) -> int:
    last = max(0, int(np.floor(centre + 0.5)))
    levels = np.arange(min(max(1, start), last), last + 1)
    off = np.abs(above[levels] - clipped)
    return int(levels[len(off) - 1 - int(np.argmin(off[::-1]))])


def _near_claim(
    heap: PileUp, white_dn: float, black_dn: float, bit_depth: int, noise: NoiseModel
) -> bool:
    """Where the noise is not known, a pile-up must lie where the file lets expect one.

    A picture of one single value is only taken for clipped at the claimed level or at the
    largest value; smoothed pixels hold narrow pile-ups of all kinds.
    """
    largest = 2.0**bit_depth - 1.0
    at_claim = min(abs(heap.level_dn - white_dn), abs(heap.level_dn - largest))
    if noise.smoothed or (heap.spread_dn < 0.3 and heap.share > 0.999):
        return at_claim <= 0.01 * (white_dn - black_dn)
    share = (heap.level_dn - black_dn) / max(1.0, white_dn - black_dn)
    return share >= 0.7
