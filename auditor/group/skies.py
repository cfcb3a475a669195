"""The sky over the ground in one frame, and which graduated filter would have balanced it."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from auditor.group.horizon import filled_stops, find_horizon, row_medians
from auditor.group.limits import SKY_BLOWN_SHARE
from auditor.group.setups import SetupShots
from auditor.group.shots import Shot
from auditor.group.tile_image import TileImage
from auditor.light.graduated import balancing_strength
from auditor.model.audit import SkyBalance

BRIGHT_TILES = 0.999
"""The sky's bright end: the light that all but this share of its tiles stay under."""

END_STOPS = 0.01
"""A middle tone this near to saturation or to the floor is not recorded."""


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
    rows = row_medians(filled_stops(image))
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


def _headroom(image: TileImage, row: int) -> float | None:
    """Return how much more light the sky could have taken; 0 where a part of it is blown."""
    if float(image.lost_bright[:row].astype(np.float32).mean()) >= SKY_BLOWN_SHARE:
        return 0.0
    rooms = []
    for colour, room_dn in enumerate(image.room_dn):
        sky = image.signal(colour)[:row]
        sky = sky[np.isfinite(sky)]
        if len(sky) and float(np.quantile(sky, BRIGHT_TILES)) > 0:
            rooms.append(math.log2(room_dn / float(np.quantile(sky, BRIGHT_TILES))))
    return round(max(0.0, min(rooms)), 3) if rooms else None
