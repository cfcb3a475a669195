"""Tiles of a packed picture that hold other data: breaks exactly along their borders.

A decoder that meets foreign data within a tile goes on to the tile's end with wrong differences:
they add up, so that the tile's rest stands off from all its neighbours, to the pixel. An edge of a
scene may lie along one side of a tile; along two sides of the same tile none does.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from auditor.defects.limits import BREAK_RATIO, TILE_SEGMENTS, TILE_SIDES, TILE_STEP_DN
from auditor.model.arrays import U16, Bool
from auditor.model.measurement import DamageSign

SEGMENT_PX = 32


def foreign_tiles(
    stored: U16, tile: tuple[int, int], period: tuple[int, int]
) -> tuple[DamageSign, ...]:
    """Look for tiles that stand off from their neighbours along two or more of their sides.

    Parameters
    ----------
    stored : array of uint16, shape (height, width)
    tile, period : (rows, columns)
        Of one tile, and of the colour pattern.
    """
    if stored.ndim != 2 or any(
        side < 2 * SEGMENT_PX or side % step for side, step in zip(tile, period, strict=True)
    ):
        return ()
    down, across = (-(-size // side) for size, side in zip(stored.shape, tile, strict=True))
    sides = np.zeros((down, across), dtype=np.int64)
    upright = _broken(stored, tile, period[1])
    sides[:, 1:] += upright
    sides[:, :-1] += upright
    level = _broken(stored.T, tile[::-1], period[0]).T
    sides[1:] += level
    sides[:-1] += level
    found = np.argwhere(sides >= TILE_SIDES)
    if not len(found):
        return ()
    row, col = found[0].tolist()
    text = (
        f"{len(found)} of {down * across} tiles, the first from row {row * tile[0]}, column "
        f"{col * tile[1]} on, break off from their neighbours exactly along their borders: their "
        "packed data are not those of this picture."
    )
    return (DamageSign("foreign tiles", len(found) / (down * across), text),)


def _broken(stored: U16, tile: tuple[int, int], step: int) -> Bool:
    """Tell which borders between neighbouring columns of tiles break, for each row of tiles."""
    height, width = stored.shape
    borders = np.arange(tile[1], width - step, tile[1])
    down, segments = -(-height // tile[0]), tile[0] // SEGMENT_PX
    broken = np.zeros((down, -(-width // tile[1]) - 1), dtype=np.bool_)
    if not len(borders):
        return broken
    lines = [stored[:, borders + n * step].astype(np.int32) for n in (-2, -1, 0, 1)]
    changes = [np.abs(after - before) for before, after in pairwise(lines)]
    for row in range(down):
        part = slice(row * tile[0], row * tile[0] + segments * SEGMENT_PX)
        rows = changes[0][part].shape[0] // SEGMENT_PX * SEGMENT_PX
        if not rows:
            continue
        before, at, after = (
            change[part][:rows].reshape(-1, SEGMENT_PX, len(borders)).mean(axis=1)
            for change in changes
        )
        beside = np.maximum(before, after)
        steps = (at >= BREAK_RATIO * beside) & (at - beside >= TILE_STEP_DN)
        broken[row, : len(borders)] = steps.sum(axis=0) >= TILE_SEGMENTS
    return broken
