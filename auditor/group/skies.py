"""The sky over the ground in one frame, and which graduated filter would have balanced it."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from auditor.group.setups import SetupShots
from auditor.group.shots import Shot
from auditor.group.tile_image import TileImage
from auditor.light.graduated import balancing_strength
from auditor.model.arrays import F32, F64
from auditor.model.audit import SkyBalance

HIGHEST, LOWEST = 0.1, 0.78
"""No line is sought nearer to the top than the first or lower than the second share of the
height: no graduated filter would be drawn there."""

TELLING = 0.55
"""Share of the variance between rows that one step must explain to be a horizon."""

STEP_STOPS = 0.4
"""A sky stands over the ground by at least this where they meet."""

NEAR_ROWS = 0.08
"""Share of the height above and below the horizon in which the step must lie."""

BRIGHT_TILES = 0.999
"""The sky's bright end: the light that all but this share of its tiles stay under."""

END_STOPS = 0.01
"""A middle tone this near to saturation or to the floor is not recorded."""

BLOWN_SHARE = 5e-4
"""Blown share of the sky from which it had nothing in hand."""


def sky_balances(setup: SetupShots) -> Iterator[SkyBalance]:
    """Yield how the sky stands over the ground in each frame of a set-up.

    All frames of one composition have one horizon: the middle of those found in them.
    Nothing is yielded where less than half of the frames show one.
    """
    downs = [shift[1] if shift else 0.0 for shift in setup.shifts]
    rows = [find_horizon(shot.image) for shot in setup.shots]
    found = [row - down for row, down in zip(rows, downs, strict=True) if row is not None]
    if 2 * len(found) < len(rows) or not found:
        return
    common = float(np.median(found))
    for shot, down in zip(setup.shots, downs, strict=True):
        balance = _balance(shot, round(common + down))
        if balance is not None:
            yield balance


def _balance(shot: Shot, row: int) -> SkyBalance | None:
    image = shot.image
    rows = _row_medians(_filled(image))
    if not 0 < row < len(rows):
        return None
    sky, ground = float(np.median(rows[:row])), float(np.median(rows[row:]))
    top, floor = (math.log2(ends[image.main]) for ends in (image.room_dn, image.floor_dn))
    told = None if ground >= top - END_STOPS else round(sky - ground, 3)
    sky_blown, ground_unlit = sky >= top - END_STOPS, ground <= floor + END_STOPS
    return SkyBalance(
        frame=shot.id,
        sky_over_ground_stops=told,
        sky_headroom_stops=_headroom(image, row),
        common_strength_stops=None if told is None else balancing_strength(told),
        horizon_at=round(image.row_edge(row), 4),
        at_least=told is not None and (sky_blown or ground_unlit),
        notes=tuple(_notes(told, sky_blown=sky_blown, ground_unlit=ground_unlit)),
    )


def _notes(told: float | None, *, sky_blown: bool, ground_unlit: bool) -> Iterator[str]:
    """Say why a figure is missing, or only the least it can be."""
    if told is None:
        yield "The ground is blown too: how far the sky stands over it cannot be told."
    elif sky_blown:
        yield "The middle of the sky is blown: it stands at least so high."
    elif ground_unlit:
        yield "The ground lies under the noise floor: the sky stands at least so high over it."


def find_horizon(image: TileImage) -> int | None:
    """Find the first row of tiles below the line where a bright upper part meets a dark one.

    The row is sought that splits the column of row medians into two with the least variance
    within them; it is a horizon if that explains most of the variance and the brightness does
    drop there. Water as bright as the sky belongs to the bright part: the line then is the
    shore. Blown tiles count as saturated: a blown sky stands at least so high.
    """
    rows = _row_medians(_filled(image))
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
    return row if float(np.median(above) - np.median(below)) >= STEP_STOPS else None


def _filled(image: TileImage) -> F32:
    """Return stops of the main colour, blown tiles at saturation, unlit ones at the floor."""
    signal = image.signal_dn[image.main]
    signal = np.where(np.isnan(signal), np.float32(image.room_dn[image.main]), signal)
    return np.log2(np.maximum(signal, np.float32(image.floor_dn[image.main])))


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


def _headroom(image: TileImage, row: int) -> float | None:
    """Return how much more light the sky could have taken; 0 where a part of it is blown."""
    if float(image.lost_bright[:row].astype(np.float32).mean()) >= BLOWN_SHARE:
        return 0.0
    rooms = []
    for colour, room_dn in enumerate(image.room_dn):
        sky = image.signal_dn[colour][:row]
        sky = sky[np.isfinite(sky)]
        if len(sky) and float(np.quantile(sky, BRIGHT_TILES)) > 0:
            rooms.append(math.log2(room_dn / float(np.quantile(sky, BRIGHT_TILES))))
    return round(max(0.0, min(rooms)), 3) if rooms else None
