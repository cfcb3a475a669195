"""A shift between two frames refined to parts of a tile, with its error.

Least squares on the gradients, ``b - a = c - gradient · δ`` for small δ, block by block: what moves
by itself, waves and clouds, is unlike from frame to frame and does not count, and blocks that go
another way than most lose their weight. How far the blocks lie apart tells the error.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from auditor.group.limits import FINE_LEAST_BLOCKS, FINE_LIKE, SHIFT_LEAST_ERROR_TILES
from auditor.group.structure import BLOCK, Structure, in_blocks
from auditor.model.arrays import F32, F64, Bool

ROUNDS = 3
WEIGHING_ROUNDS = 4

SAME_PEAK_TILES = 0.6
"""A refined shift stays this near the whole tile at which the correlation is highest: half a tile,
and a little where the peak lies on the border of two."""

LEAST_SLOPE = 0.02
LEAST_SHARE = 0.5
LEAST_STOPS = 0.05
LIKEST = 0.02
TINY = 1e-9
LIKE_SLACK = 0.003
"""Between tiles a picture is a little softer, and so less alike, however right the shift is."""

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
    at, error = rough, 0.0
    first = moved = _moved(b, rough)
    for _ in range(ROUNDS):
        found = _step(a, *moved)
        if found is None:
            return FineShift(*rough)
        at, error = (at[0] - found[0], at[1] - found[1]), found[2]
        moved = _moved(b, at)
    away = max(abs(at[0] - peak[0]), abs(at[1] - peak[1]))
    if away > SAME_PEAK_TILES or _alike(a, *moved) < _alike(a, *first) - LIKE_SLACK:
        return FineShift(*rough)
    return FineShift(*at, float(np.hypot(error, SHIFT_LEAST_ERROR_TILES)))


def _step(a: Structure, moved: F32, known: Bool) -> tuple[float, float, float] | None:
    """Return the step down and right that is left, and the error of it."""
    slope_y, slope_x = np.gradient((a.values + moved) / 2.0)
    there: Bool = known & (a.known > 0) & (np.hypot(slope_y, slope_x) > LEAST_SLOPE)
    use = in_blocks(there.astype(np.float32))
    first, second, down, right = (
        _centred(in_blocks(part), use) for part in (a.values, moved, slope_y, slope_x)
    )
    count, energy = use.sum(axis=1), np.minimum((first**2).sum(axis=1), (second**2).sum(axis=1))
    scale = np.sqrt((first**2).sum(axis=1) * (second**2).sum(axis=1))
    alike = (first * second).sum(axis=1) / np.maximum(scale, TINY)
    kept = (count >= LEAST_SHARE * BLOCK**2) & (energy >= count * LEAST_STOPS**2)
    kept &= alike >= FINE_LIKE
    if np.count_nonzero(kept) < FINE_LEAST_BLOCKS:
        return None
    slopes = np.stack([down[kept], right[kept]], axis=1)
    weight = 1.0 / np.maximum(1.0 - alike[kept], LIKEST)
    normal = np.einsum("bip,bjp->bij", slopes, slopes) * weight[:, None, None]
    wanted = np.einsum("bip,bp->bi", slopes, (second - first)[kept]) * weight[:, None]
    return _common(normal, wanted)


def _common(normal: F64, wanted: F64) -> tuple[float, float, float]:
    """Solve for the step that most blocks share; the error is from how far they lie apart."""
    ridge = 1e-6 * np.trace(normal, axis1=1, axis2=2)[:, None, None] * np.eye(2)
    own: F64 = np.linalg.solve(normal + ridge, wanted[..., None])[..., 0]
    trust: F64 = np.ones(len(own))
    step: F64 = np.zeros(2)
    for _ in range(WEIGHING_ROUNDS):
        step = np.asarray(
            np.linalg.solve(np.tensordot(trust, normal, 1), trust @ wanted), np.float64
        )
        off = np.hypot(*(own - step).T)
        scatter = max(LEAST_SCATTER_TILES, 1.5 * 1.4826 * float(np.median(off)))
        trust = np.asarray(1.0 / (1.0 + (off / scatter) ** 2), dtype=np.float64)
    pull = (wanted - normal @ step) * trust[:, None]
    inverse = np.linalg.inv(np.tensordot(trust, normal, 1))
    spread = np.diag(inverse @ (pull.T @ pull) @ inverse)
    return float(step[0]), float(step[1]), float(np.sqrt(spread.max()))


def _centred(blocks: F32, use: F32) -> F64:
    mean = (blocks * use).sum(axis=1) / np.maximum(1.0, use.sum(axis=1))
    centred: F64 = ((blocks - mean[:, None]) * use).astype(np.float64)
    return centred


def _moved(b: Structure, shift: tuple[float, float]) -> tuple[F32, Bool]:
    """Move a picture back by parts of tiles; also return where it is known there."""
    from scipy import ndimage  # noqa: PLC0415 - slow to load, and a lone frame needs none

    back = (-shift[0], -shift[1])
    moved: F32 = ndimage.shift(b.values, back, order=3, mode="nearest")
    known: Bool = ndimage.shift(b.known, back, order=1, mode="constant") > 0.99
    return moved, known


def _alike(a: Structure, moved: F32, known: Bool) -> float:
    use = known & (a.known > 0)
    first, second = a.values[use], moved[use]
    energy = float((first @ first) * (second @ second))
    return float(first @ second) / max(TINY, float(np.sqrt(energy)))
