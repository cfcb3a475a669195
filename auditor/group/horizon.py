"""Where the bright upper part of a picture meets the darker lower one, in tiles."""

from __future__ import annotations

import math

import numpy as np

from auditor.group.limits import HORIZON_STEP_STOPS, TELLING
from auditor.group.tile_image import TileImage
from auditor.model.arrays import F32, F64

HIGHEST, LOWEST = 0.1, 0.78
"""No line is sought nearer to the top than the first or lower than the second share of the
height: no graduated filter would be drawn there."""


NEAR_ROWS = 0.08
"""Share of the height above and below the horizon in which the step must lie."""


def find_horizon(image: TileImage) -> int | None:
    """Find the first row of tiles below the line where a bright upper part meets a dark one.

    The row is sought that splits the column of row medians into two with the least variance
    within them; it is a horizon if that explains most of the variance and the brightness does
    drop there. Water as bright as the sky belongs to the bright part: the line then is the
    shore. Blown tiles count as saturated: a blown sky stands at least so high.
    """
    rows = row_medians(filled_stops(image))
    if len(rows) < 12:
        return None
    first, last = math.ceil(HIGHEST * len(rows)), int(LOWEST * len(rows))
    splits = range(max(2, first), last + 1)
    explained = _explained(rows, splits)
    if float(explained.max()) < TELLING:
        return None
    row = _steepest(rows, splits[int(np.argmax(explained))])
    near = max(2, round(NEAR_ROWS * len(rows)))
    above, below = rows[max(0, row - near) : row], rows[row : row + near]
    return row if float(np.median(above) - np.median(below)) >= HORIZON_STEP_STOPS else None


def filled_stops(image: TileImage) -> F32:
    """Return stops of the main colour, blown tiles at saturation, unlit ones at the floor."""
    signal = image.signal(image.main)
    signal = np.where(np.isnan(signal), np.float32(image.room_dn[image.main]), signal)
    return np.log2(np.maximum(signal, np.float32(image.floor_dn[image.main])))


def row_medians(stops: F32) -> F64:
    """Return the median of each row."""
    return np.median(stops, axis=1).astype(np.float64)


def _explained(rows: F64, splits: range) -> F64:
    """Return for each split the share of variance between its parts.

    0 where the upper part is not the brighter one.
    """
    at = np.array(splits)
    total = float(rows.var())
    if total <= 1e-6:
        return np.zeros(len(at))
    sums = np.cumsum(rows)
    above = sums[at - 1] / at
    below = (sums[-1] - sums[at - 1]) / (len(rows) - at)
    share = at * (len(rows) - at) / len(rows) ** 2
    return np.asarray(share * np.maximum(0.0, above - below) ** 2 / total)


def _steepest(rows: F64, split: int) -> int:
    """Return the first row below the steepest drop near a split."""
    near = max(2, len(rows) // 10)
    low, high = max(1, split - near), min(len(rows) - 1, split + near)
    drops = rows[low - 1 : high] - rows[low : high + 1]
    return low + int(np.argmax(drops))
