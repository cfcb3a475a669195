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

from collections.abc import Sequence

import numpy as np

from auditor.clipping.limits import (
    BEYOND_SHARE,
    FAR_BELOW,
    FEW,
    LEAST_EVIDENCE,
    LEAST_RANGE_SHARE,
    LEAST_SIGNAL,
    NOISE_SHARE,
    SIGMAS_DOWN,
    WINDOW,
)
from auditor.clipping.modes import common_modes, top_mode
from auditor.clipping.top import Top, heap_at, top_of
from auditor.model.arrays import F64, I64
from auditor.model.measurement import Histogram, PileUp
from auditor.noise.estimate import NoiseModel, PlaneView
from auditor.sensor.histogram import upper_end_dn


def find_pile_ups(
    views: Sequence[PlaneView], noises: Sequence[NoiseModel], bit_depth: int
) -> tuple[PileUp | None, ...]:
    """Find the pile-up of each plane of one sensor.

    Channels clip close together. A pile-up far below what another channel records is dropped: it
    was made by something else than the sensor.
    """
    narrow = [
        find_pile_up(view.histogram, view.black.mean_dn, view.white_dn, bit_depth, noise)
        for view, noise in zip(views, noises, strict=True)
    ]
    modes = [top_mode(view.histogram, view.black.mean_dn) for view in views]
    agreed = common_modes(views, modes)
    pile_ups = [
        sharp_or_loose(sharp, mode, agreed=plane in agreed)
        for plane, (sharp, mode) in enumerate(zip(narrow, modes, strict=True))
    ]
    reach = max((upper_end_dn(v.histogram, FEW) - v.black.mean_dn for v in views), default=0.0)
    return tuple(
        None if heap is None or reach > FAR_BELOW * (heap.level_dn - view.black.mean_dn) else heap
        for heap, view in zip(pile_ups, views, strict=True)
    )


def sharp_or_loose(
    sharp: PileUp | None, mode: PileUp | None, *, agreed: bool = False
) -> PileUp | None:
    """Choose between a sharp pile-up and the topmost mode, where it is part of that.

    The sharp one, where it is most of the mode; else the mode, if colours agree on it. If they do
    not, what is sharp within it may be a row, ringing or overshoot on its top: neither is sure.
    """
    if mode is None or (sharp is not None and sharp.share > mode.share / 2):
        return sharp
    if agreed or sharp is None:
        return mode if agreed else None
    within = sharp.from_dn <= mode.level_dn + SIGMAS_DOWN * mode.spread_dn
    return None if within else sharp


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
    if histogram.total == 0:
        return None
    top = top_of(histogram, black_dn, noise)
    place = _best_place(top, black_dn, white_dn, noise)
    heap = None if place is None else heap_at(top, place)
    if heap is None or noise.known:
        return heap
    # where the noise is not known, a pile-up must lie where the file lets expect one; smoothed
    # pixels hold narrow ones of all kinds, and a picture of one single value is only taken for
    # clipped at the claimed level or at the largest value
    largest = 2.0**bit_depth - 1.0
    if noise.smoothed or (heap.spread_dn < 0.3 and heap.share > 0.999):
        at_claim = min(abs(heap.level_dn - white_dn), abs(heap.level_dn - largest))
        expected = at_claim <= 0.01 * (white_dn - black_dn)
    else:
        expected = (heap.level_dn - black_dn) / max(1.0, white_dn - black_dn) >= 0.7
    return heap if expected else None


def _best_place(top: Top, black_dn: float, white_dn: float, noise: NoiseModel) -> int | None:
    """Return the DN where the rule is broken most, if it is broken at all."""
    least = black_dn + max(
        LEAST_RANGE_SHARE * (white_dn - black_dn),
        LEAST_SIGNAL * (noise.estimate.read_noise_dn or 0.0),
    )
    first = max(1, int(np.ceil(least)), top.first_with_few_above())
    place = np.arange(first, len(top.sigma_dn), dtype=np.int64)
    sigma = top.sigma_dn[place]
    window = np.rint(np.maximum(WINDOW * sigma, top.step_dn[place] - 1.0)).astype(np.int64)
    distance = np.maximum(2 * window + 1, top.distance_dn(place))
    heap = top.between(place - window, place + window)
    beyond = top.below[-1] - top.below[np.minimum(place + distance + window + 1, len(top.sigma_dn))]
    # a pile-up ends the histogram
    usable = (heap > 0) & (beyond <= BEYOND_SHARE * heap)
    place, window, distance, heap, sigma = (
        values[usable] for values in (place, window, distance, heap, sigma)
    )
    under = top.between(place - distance - window, place - distance + window)
    over = top.between(place + distance - window, place + distance + window)
    allowed = np.exp(-((distance / (NOISE_SHARE * sigma)) ** 2))
    evidence = _evidence(heap, under, over, allowed)
    if not len(place) or float(evidence.max()) <= LEAST_EVIDENCE:
        return None
    return int(place[evidence.argmax()])


def _evidence(heap: I64, under: I64, over: I64, allowed: F64) -> F64:
    """Twice the log likelihood ratio of three counts, free against held to the rule.

    Held to the rule, the expected counts are ``a``, ``sqrt(k) a e^u`` and ``sqrt(k) a e^-u``
    with ``k`` the allowed ratio and ``u >= 0`` the likeliest tilt: ``2 s sinh u = r (1 + 2 s cosh
    u)``, ``r`` the difference of the outer counts over the sum of all three and ``s = sqrt(k)``.
    """
    evidence = np.zeros(len(heap))
    broken = np.flatnonzero(
        under.astype(np.float64) * over < allowed * heap.astype(np.float64) ** 2
    )
    a, b, c = (x[broken].astype(np.float64) for x in (heap, under, over))
    total, root_k = a + b + c, np.sqrt(np.maximum(allowed[broken], 1e-300))
    lean = np.abs(b - c) / total
    root = np.sqrt(lean**2 + 4.0 * root_k**2 * (1.0 - lean**2))
    tilt = np.log((lean + root) / (2.0 * root_k * (1.0 - lean)))
    log_a = np.log(total) - np.log1p(2.0 * root_k * np.cosh(tilt))
    held = total * log_a + (b + c) * np.log(root_k) + np.abs(b - c) * tilt
    free = _n_log_n(a) + _n_log_n(b) + _n_log_n(c)
    evidence[broken] = 2.0 * (free - held)
    return evidence


def _n_log_n(count: F64) -> F64:
    result: F64 = count * np.log(np.maximum(count, 1.0))
    return result
