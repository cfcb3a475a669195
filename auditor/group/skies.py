"""The sky over the ground in one frame, and which graduated filter would have balanced it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from auditor.group.plates import Plate
from auditor.group.shots import Shot
from auditor.model.arrays import F32, F64
from auditor.model.audit import SkyBalance

EDGE_ROWS = 0.1
"""No horizon is sought nearer than this to the top or bottom."""

TELLING = 0.55
"""Share of the variance between rows that one step must explain to be a horizon."""

STEP_STOPS = 0.4
"""A sky stands over the ground by at least this where they meet."""

NEAR_ROWS = 0.08
"""Share of the height above and below the horizon in which the step must lie."""

KEPT_STOPS = 1.0
"""Common practice: the sky is left a stop brighter than the ground, as the eye expects it."""

COMMON_STOPS = (1.0, 2.0, 3.0, 4.0)
"""Graduated filters are sold at densities 0.3, 0.6, 0.9 and 1.2."""

BRIGHT_TILES = 0.999
"""The sky's bright end: the light that all but this share of its tiles stay under."""

BLOWN_SHARE = 5e-4
"""Blown share of the sky from which it had nothing in hand."""


@dataclass(frozen=True, slots=True)
class Horizon:
    """A horizon: first row of tiles below it, and medians above and below in stops."""

    row: int
    sky_stops: float
    ground_stops: float


def sky_balance(shot: Shot) -> SkyBalance | None:
    """Return how the sky stands over the ground; None where no horizon is found."""
    plate = shot.plate
    horizon = find_horizon(plate)
    if horizon is None:
        return None
    over = horizon.sky_stops - horizon.ground_stops
    return SkyBalance(
        frame=shot.id,
        sky_over_ground_stops=round(over, 3),
        sky_headroom_stops=_headroom(plate, horizon.row),
        common_strength_stops=_strength(over),
        horizon_at=round(horizon.row * plate.tile_px / plate.height_px, 4),
    )


def find_horizon(plate: Plate) -> Horizon | None:
    """Find the row at which a brighter upper part meets a darker lower part.

    The row is sought that splits the column of row medians into two with the least variance
    within them; it is a horizon if that explains most of the variance and the brightness does
    drop there. Blown tiles count as saturated: a blown sky stands at least so high.
    """
    rows = _row_medians(_filled(plate))
    if len(rows) < 12:
        return None
    first, last = int(EDGE_ROWS * len(rows)), math.ceil((1 - EDGE_ROWS) * len(rows))
    splits = range(max(2, first), min(len(rows) - 2, last) + 1)
    explained = _explained(rows, splits)
    best = splits[int(np.argmax(explained))]
    if float(explained.max()) < TELLING:
        return None
    row = _steepest(rows, best)
    near = max(2, round(NEAR_ROWS * len(rows)))
    above, below = rows[max(0, row - near) : row], rows[row : row + near]
    if float(np.median(above) - np.median(below)) < STEP_STOPS:
        return None
    return Horizon(row, float(np.median(rows[:row])), float(np.median(rows[row:])))


def _filled(plate: Plate) -> F32:
    """Return stops of the main colour, blown tiles at saturation, unlit ones at the floor."""
    signal = plate.signal_dn[plate.main]
    signal = np.where(np.isnan(signal), np.float32(plate.room_dn[plate.main]), signal)
    return np.log2(np.maximum(signal, np.float32(plate.floor_dn[plate.main])))


def _row_medians(stops: F32) -> F64:
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


def _headroom(plate: Plate, row: int) -> float | None:
    """Return how much more light the sky could have taken; 0 where a part of it is blown."""
    if float(plate.lost_bright[:row].astype(np.float32).mean()) >= BLOWN_SHARE:
        return 0.0
    rooms = []
    for colour, room_dn in enumerate(plate.room_dn):
        sky = plate.signal_dn[colour][:row]
        sky = sky[np.isfinite(sky)]
        if len(sky) and float(np.quantile(sky, BRIGHT_TILES)) > 0:
            rooms.append(math.log2(room_dn / float(np.quantile(sky, BRIGHT_TILES))))
    return round(max(0.0, min(rooms)), 3) if rooms else None


def _strength(over_stops: float) -> float | None:
    """Return the common strength that leaves the sky about a stop over the ground."""
    wanted = over_stops - KEPT_STOPS
    if wanted < COMMON_STOPS[0] / 2:
        return None
    return min(COMMON_STOPS, key=lambda strength: abs(strength - wanted))
