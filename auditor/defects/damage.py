"""Traces of picture data lost without an error: what no sensor records and no scene makes.

Every sign is held against what clean frames show: blown skies and dark frames are constant too,
single dead pixels are dark too, a level horizon jumps from row to row too.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from auditor.defects.limits import (
    BESIDE_NOISE,
    BEYOND_WHITE,
    EMPTY_SHARE,
    LEAST_CELL_PX,
    LEAST_DEPTH_DN,
    LEAST_LOST,
    LEAST_NOISE_STEPS,
    LOST_DEPTH,
    LOST_SIGMAS,
    ROW_SHARE,
    RUN_SHARE,
)
from auditor.defects.row_breaks import find_row_break
from auditor.model.arrays import F64, U16, Bool
from auditor.model.codes import Damage
from auditor.model.measurement import DamageSign, Histogram
from auditor.noise.estimate import NoiseModel
from auditor.sensor.cells import Cells
from auditor.sensor.lattice import SensorLattice, pixels_per_cell

STEPS_AROUND = 3


@dataclass(frozen=True, slots=True, eq=False)
class DamageView:
    """What signs of damage are looked for in.

    Parameters
    ----------
    blacks_dn, clip_thresholds_dn : sequence of float
        Mean black and the level of clipping, per plane.
    bit_depth : int
    white_dn : float
        The highest level that the file claims to hold.
    """

    lattices: Sequence[SensorLattice]
    histograms: Sequence[Histogram]
    cells: Cells
    blacks_dn: Sequence[float]
    noises: Sequence[NoiseModel]
    clip_thresholds_dn: Sequence[float]
    bit_depth: int
    white_dn: float


def find_damage(view: DamageView) -> tuple[DamageSign, ...]:
    """Look for all signs; an empty picture needs no others."""
    empty = _empty_planes(view)
    if empty:
        return empty
    found = [_lost_pixels(view), _wild_pixels(view), _constant_block(view)]
    signs = tuple(sign for sign in found if sign is not None)
    # other damage breaks rows too, and is told more plainly
    row = None if signs else find_row_break(view.lattices[0])
    if row is None:
        return signs
    height = view.lattices[0].pixels.shape[0]
    return (DamageSign(Damage.ROW_JUMP, (height - row) / height, {"row": row}),)


def _empty_planes(view: DamageView) -> tuple[DamageSign, ...]:
    zeros = [histogram.at_or_below(0) for histogram in view.histograms]
    totals = [max(1, histogram.total) for histogram in view.histograms]
    empty = [zero > EMPTY_SHARE * total for zero, total in zip(zeros, totals, strict=True)]
    if not any(empty):
        return ()
    lost = sum(zero for zero, is_empty in zip(zeros, empty, strict=True) if is_empty)
    figures = {"planes": sum(empty), "of": len(empty)}
    return (DamageSign(Damage.EMPTY_PLANE, lost / sum(totals), figures),)


def _lost_pixels(view: DamageView) -> DamageSign | None:
    """Find runs of pixels far under black: zeroed data in a file that has a black level."""
    limits = [
        black
        - max(
            LEAST_DEPTH_DN,
            LOST_SIGMAS * (noise.estimate.read_noise_dn or 0.0),
            LOST_DEPTH * black,
        )
        for black, noise in zip(view.blacks_dn, view.noises, strict=True)
    ]
    counts = [h.at_or_below(limit) for h, limit in zip(view.histograms, limits, strict=True)]
    if sum(counts) < LEAST_LOST:
        return None
    hollow, share = np.zeros(len(view.lattices[0].pixels), dtype=np.bool_), 0.0
    for lattice in view.lattices:
        flags = _compared(lattice, limits, below=True)
        beside = flags[:, 1:] & flags[:, :-1]  # most flagged pixels have a flagged one beside them
        if beside.sum() >= max(LEAST_LOST / 2, RUN_SHARE * flags.sum()):
            hollow |= flags.mean(axis=1) >= ROW_SHARE
            share += float(flags.mean()) / len(view.lattices)
    if share == 0.0:
        return None
    rows = int(hollow.sum())
    if rows:
        return DamageSign(Damage.EMPTY_ROWS, share, {"rows": rows})
    return DamageSign(Damage.CONSTANT_BLOCK, share)


def _wild_pixels(view: DamageView) -> DamageSign | None:
    """Find crowds of values larger than the file's own bits and white level allow."""
    largest = min(2.0**view.bit_depth - 1.0, BEYOND_WHITE * view.white_dn)
    counts = [histogram.at_or_above(largest + 1.0) for histogram in view.histograms]
    if sum(counts) < LEAST_LOST:
        return None
    limits = [largest] * len(view.histograms)
    flags = [_compared(lattice, limits, below=False) for lattice in view.lattices]
    per_row = [own.sum(axis=1) for own in flags]
    # they crowd in some rows rather than lie about
    if not any(4 * np.median(own) + LEAST_LOST / 2 < own.max() for own in per_row):
        return None
    share = float(np.mean([own.mean() for own in flags]))
    return DamageSign(Damage.IMPOSSIBLE_VALUES, share, {"above_dn": largest})


def _compared(lattice: SensorLattice, limits_dn: Sequence[float], *, below: bool) -> Bool:
    """Flag pixels at or below (or above) their plane's limit."""
    flags = np.empty(lattice.pixels.shape, dtype=np.bool_)
    rows, cols = lattice.pattern.shape
    for plane in lattice.planes:
        for y, x in lattice.places(plane):
            part = lattice.pixels[y::rows, x::cols]
            limit = limits_dn[plane]
            flags[y::rows, x::cols] = part <= limit if below else part > limit
    return flags


def _constant_block(view: DamageView) -> DamageSign | None:
    """Find places where every plane holds one value only, below clipping and above zero.

    Noise makes that impossible wherever it is not lost in rounding.
    """
    constant = np.ones(view.cells.tops.shape[1:], dtype=np.bool_)
    planes = [(lattice, plane) for lattice in view.lattices for plane in lattice.planes]
    for lattice, plane in planes:
        if constant.any():
            # cells whose pixels of a plane are all as large as the largest
            counts = pixels_per_cell(lattice, plane, view.cells.cell_px)
            constant &= view.cells.sums[plane] == view.cells.tops[plane] * counts
            constant &= counts >= 4
    if constant.any():
        sizes = [pixels_per_cell(lattice, plane, view.cells.cell_px) for lattice, plane in planes]
        constant &= np.sum(sizes, axis=0) >= LEAST_CELL_PX
    for _, plane in planes:
        if constant.any():
            constant[constant] = _noisy_inside(view, plane, view.cells.tops[plane][constant])
    block = _adjoining(constant, view.cells.tops)
    # a block that was lost ends where noise begins; where it is little all around, it was smoothed
    if not block.any() or any(_calm_beside(view, *one, block, constant) for one in planes):
        return None
    return DamageSign(Damage.EVEN_CELLS, float(block.mean()))


def _adjoining(even: Bool, tops: U16) -> Bool:
    """Keep the cells beside which another holds the same values: one may be even by chance."""
    kept = np.zeros_like(even)
    # down, then across
    for turned, own, values in ((kept, even, tops), (kept.T, even.T, tops.transpose(0, 2, 1))):
        same = own[1:] & own[:-1] & (values[:, 1:] == values[:, :-1]).all(axis=0)
        turned[1:] |= same
        turned[:-1] |= same
    return kept


def _calm_beside(
    view: DamageView, lattice: SensorLattice, plane: int, block: Bool, even: Bool
) -> bool:
    """Tell whether cells beside a block have far less noise than light has, in one plane."""
    wide, (rows, cols) = np.pad(block, 1), block.shape
    around = [wide[y : y + rows, x : x + cols] for y in range(3) for x in range(3)]
    beside = np.logical_or.reduce(around) & ~even
    counts = pixels_per_cell(lattice, plane, view.cells.cell_px)
    beside &= counts >= 4
    means = view.cells.sums[plane][beside] / counts[beside]
    noise = _noise_at(view.noises[plane], means - view.blacks_dn[plane])
    # the largest of four lies about one deviation over their mean
    above = (view.cells.tops[plane][beside] - means)[noise > 0] / noise[noise > 0]
    return bool(above.size) and float(np.median(above)) < BESIDE_NOISE


def _noisy_inside(view: DamageView, plane: int, level_dn: U16) -> Bool:
    """Whether a plane's noise would show at some levels, and they are neither end."""
    signal = level_dn.astype(np.float64) - view.blacks_dn[plane]
    end_dn = min(view.clip_thresholds_dn[plane], float(view.histograms[plane].last_dn))
    steps = _code_steps_dn(view.histograms[plane], level_dn)
    noisy: Bool = _noise_at(view.noises[plane], signal) >= LEAST_NOISE_STEPS * steps
    inside: Bool = (level_dn > 0) & (level_dn < end_dn)
    return noisy & inside


def _code_steps_dn(histogram: Histogram, level_dn: U16) -> F64:
    """Return the mean step between the values that occur around each level."""
    there = np.flatnonzero(histogram.counts)
    place = np.searchsorted(there, level_dn.astype(np.int64) - histogram.first_dn)
    low = np.clip(place - STEPS_AROUND, 0, len(there) - 1)
    high = np.clip(place + STEPS_AROUND, 0, len(there) - 1)
    steps: F64 = (there[high] - there[low]) / np.maximum(high - low, 1)
    return steps


def _noise_at(noise: NoiseModel, signal_dn: F64) -> F64:
    """Noise at a signal; where gain is unknown read noise alone; where both are, no noise."""
    if noise.known:
        return noise.sigma_dn(signal_dn)
    return np.full(signal_dn.shape, noise.estimate.read_noise_dn or 0.0)
