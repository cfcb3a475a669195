"""A shift between two frames refined to parts of a tile, with its error.

Least squares on the gradients, ``b - a = c - gradient · δ`` for small δ, block by block: what moves
by itself, waves and clouds, is unlike from frame to frame and does not count, and blocks that go
another way than most lose their weight. How far the blocks lie apart tells the error.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import reduce

import numpy as np

from auditor.group.limits import FINE_LEAST_BLOCKS, FINE_LIKE, SHIFT_LEAST_ERROR_TILES
from auditor.group.structure import BLOCK, Structure, in_blocks
from auditor.model.arrays import F32, F64, MAD_TO_SIGMA, Bool, median_of

ROUNDS = 3
WEIGHING_ROUNDS = 4

LIKEST = 0.02
TINY = 1e-9
EDGE = 12
"""Tiles by which a picture is continued, so that its spline holds to the edge."""


LEAST_SCATTER_TILES = 0.03


@dataclass(frozen=True, slots=True)
class FineShift:
    """A shift in tiles, and its standard error; the error is None where it was not refined."""

    down: float
    right: float
    error_tiles: float | None = None


def refined(
    a: Structure, b: Structure, rough: tuple[float, float], peak: tuple[int, int]
) -> FineShift:
    """Refine a shift (down, right).

    Near the noise floor that can drift away: where it leaves the tile of the correlation's
    ``peak``, or the pictures are less alike afterwards, it is not taken.
    """
    from scipy import ndimage  # noqa: PLC0415 - slow to load, and a lone frame needs none

    rows, cols = (np.arange(-EDGE, length + EDGE) for length in b.values.shape)
    wide = b.values.take(rows, 0, mode="clip").take(cols, 1, mode="clip")
    spline: F64 = ndimage.spline_filter(wide, mode="nearest")
    at, error = rough, 0.0
    first = moved = _moved(spline, b.known, rough)
    for _ in range(ROUNDS):
        found = _step(a, *moved)
        if found is None:
            return FineShift(*rough)
        at, error = (at[0] - found[0], at[1] - found[1]), found[2]
        moved = _moved(spline, b.known, at)
        settled = 0.5  # standard errors: the next step would be a sixth of this one
        if max(abs(found[0]), abs(found[1])) < settled * error:
            break
    away = max(abs(at[0] - peak[0]), abs(at[1] - peak[1]))
    # a refined shift stays this near the whole tile at which the correlation is highest: half a
    # tile, and a little where the peak lies on the border of two.
    same_peak_tiles = 0.6
    # between tiles a picture is a little softer, and so less alike, however right the shift is
    like_slack = 0.003
    if away > same_peak_tiles or _alike(a, *moved) < _alike(a, *first) - like_slack:
        return FineShift(*rough)
    return FineShift(*at, float(np.hypot(error, SHIFT_LEAST_ERROR_TILES)))


def _step(a: Structure, moved: F32, known: Bool) -> tuple[float, float, float] | None:
    """Return the step down and right that is left, and the error of it."""
    slope_y, slope_x = _slopes((a.values + moved) / 2.0)
    least_slope = 0.02  # stops a tile: what is flatter tells no shift
    there: Bool = known & (a.known > 0) & (np.hypot(slope_y, slope_x) > least_slope)
    use = in_blocks(there.astype(np.float32))
    least_share = 0.5  # of a block's tiles
    full = use.sum(axis=1) >= least_share * BLOCK**2
    use, count = use[full], use[full].sum(axis=1)
    first, second = (_centred(in_blocks(part)[full], use, count) for part in (a.values, moved))
    energies = (first**2).sum(axis=1), (second**2).sum(axis=1)
    alike = (first * second).sum(axis=1) / np.maximum(np.sqrt(energies[0] * energies[1]), TINY)
    least_stops = 0.05  # of detail in a block, else it tells no shift
    kept = (np.minimum(*energies) >= count * least_stops**2) & (alike >= FINE_LIKE)
    if np.count_nonzero(kept) < FINE_LEAST_BLOCKS:
        return None
    down, right = (
        _centred(in_blocks(part)[full][kept], use[kept], count[kept]) for part in (slope_y, slope_x)
    )
    gain, weight = (second - first)[kept], 1.0 / np.maximum(1.0 - alike[kept], LIKEST)
    normal = [
        weight * (p * q).sum(axis=1) for p, q in ((down, down), (down, right), (right, right))
    ]
    return _common(
        np.array(normal), np.array([weight * (p * gain).sum(axis=1) for p in (down, right)])
    )


def _slopes(picture: F32) -> tuple[F32, F32]:
    """Return the slopes down and right, as :func:`numpy.gradient` in a quarter of the time."""
    down, right = np.empty_like(picture), np.empty_like(picture)
    for picked, slope in ((picture, down), (picture.T, right.T)):
        np.subtract(picked[2:], picked[:-2], out=slope[1:-1])
        slope[1:-1] /= 2.0
        slope[0], slope[-1] = picked[1] - picked[0], picked[-1] - picked[-2]
    return down, right


def _common(normal: F64, wanted: F64) -> tuple[float, float, float]:
    """Solve for the step that most blocks share; the error is from how far they lie apart.

    Parameters
    ----------
    normal : array, shape (3, blocks)
        Of each block's normal equations: down by down, down by right, right by right.
    wanted : array, shape (2, blocks)
        Their right-hand sides.
    """
    ridge = 1e-6 * (normal[0] + normal[2])
    own = _solved(normal + ridge * np.array([[1.0], [0.0], [1.0]]), wanted)
    trust: F64 = np.ones(own.shape[1])
    step: F64 = np.zeros(2)
    for _ in range(WEIGHING_ROUNDS):
        step = _solved(normal @ trust, wanted @ trust)
        off = np.hypot(own[0] - step[0], own[1] - step[1])
        scatter = max(LEAST_SCATTER_TILES, 1.5 * MAD_TO_SIGMA * float(median_of(off)))
        trust = 1.0 / (1.0 + (off / scatter) ** 2)
    left = wanted - np.array(
        [normal[0] * step[0] + normal[1] * step[1], normal[1] * step[0] + normal[2] * step[1]]
    )
    spread = (_solved((normal @ trust)[:, None], left * trust) ** 2).sum(axis=1)
    return float(step[0]), float(step[1]), float(np.sqrt(spread.max()))


def _solved(normal: F64, wanted: F64) -> F64:
    """Solve equations of two unknowns, down and right; 0 where they tell nothing."""
    yy, yx, xx = normal
    whole = yy * xx - yx**2
    whole = np.where(whole > 0.0, whole, np.inf)
    solution: F64 = np.array([xx * wanted[0] - yx * wanted[1], yy * wanted[1] - yx * wanted[0]])
    return solution / whole


def _centred(blocks: F32, use: F32, count: F32) -> F64:
    mean = (blocks * use).sum(axis=1) / np.maximum(1.0, count)
    centred: F64 = ((blocks - mean[:, None]) * use).astype(np.float64)
    return centred


def _moved(spline: F64, known: F32, shift: tuple[float, float]) -> tuple[F32, Bool]:
    """Move a picture back by parts of tiles; also return where it is known there.

    Parameters
    ----------
    spline : array
        Its cubic spline, :data:`EDGE` tiles wider on each side.
    known : array, shape (rows, cols)
        1 where it is known.
    """
    picture, there = spline, None if known.all() else known.astype(np.float64)
    inside = np.ones(known.shape, dtype=bool)
    for axis, along in enumerate(shift):
        whole, part = divmod(along, 1.0)
        count, first, left = known.shape[axis], int(whole), 1.0 - part
        cubic = (  # of the spline's coefficients, so far between the second and the third
            left**3 / 6.0,
            2.0 / 3.0 - part**2 * (1.0 - part / 2.0),
            2.0 / 3.0 - left**2 * (1.0 - left / 2.0),
            part**3 / 6.0,
        )
        picture = _weighted(picture, first + EDGE - 1, count, axis, cubic)
        if there is not None:
            there = _weighted(there, first, count, axis, (left, part))
        at = np.arange(first, first + count) + part
        within = (at >= 0) & (at <= count - 1)
        inside &= within if axis else within[:, None]
    return picture.astype(np.float32), inside if there is None else inside & (there > 0.99)


def _weighted(values: F64, first: int, count: int, axis: int, weights: Sequence[float]) -> F64:
    """Return weighted sums of so many neighbouring rows or columns, beyond an edge the last one."""
    if first >= 0 and first + count + len(weights) - 1 <= values.shape[axis]:
        before = (slice(None),) * axis
        parts = (
            values[(*before, slice(first + n, first + n + count))] for n in range(len(weights))
        )
        return reduce(np.add, (part * by for part, by in zip(parts, weights, strict=True)))
    at = np.arange(first, first + count)
    lines = (values.take(at + n, axis, mode="clip") * by for n, by in enumerate(weights))
    return reduce(np.add, lines)


def _alike(a: Structure, moved: F32, known: Bool) -> float:
    use = known & (a.known > 0)
    first, second = a.values[use], moved[use]
    energy = float((first @ first) * (second @ second))
    return float(first @ second) / max(TINY, float(np.sqrt(energy)))
