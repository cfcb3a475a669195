"""The sky against the foreground in one frame, and which graduated filter would balance it."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from auditor.group.horizon import Horizon, common_horizon, filled_stops, find_horizon
from auditor.group.limits import BLOWN_SHARE, LINE_WHOLE, REVERSE_STOPS
from auditor.group.setups import SetupShots
from auditor.group.shots import Shot
from auditor.group.tile_image import TileImage
from auditor.light.graduated import balancing_strength
from auditor.model.arrays import Bool, median_of
from auditor.model.audit import SkyBalance
from auditor.model.codes import GradKind
from auditor.model.rejected import Reason
from auditor.model.remark import RemarkCode, remark

BAND = 0.12
"""Share of the height above and below the line that counts as near to it."""


def sky_balances(setup: SetupShots) -> Iterator[SkyBalance]:
    """Yield how the sky stands over the foreground in each frame of a set-up.

    All frames of one composition have one line where the sky ends, that they vote for together.
    Where they find none only the reason is yielded, and nothing where there is no brighter sky.
    """
    downs = [shift[1] if shift else 0.0 for shift in setup.shifts]
    line = common_horizon(
        [(find_horizon(shot.image), down) for shot, down in zip(setup.shots, downs, strict=True)]
    )
    for shot, down in zip(setup.shots, downs, strict=True):
        if isinstance(line, Horizon):
            yield from _balance(shot, line.lower(down))
        elif line.reason is Reason.COLUMNS_DISAGREE:
            yield SkyBalance(frame=shot.id, remarks=(remark(RemarkCode.NO_LINE),))


def _balance(shot: Shot, line: Horizon) -> Iterator[SkyBalance]:
    image = shot.image
    stops, cols = filled_stops(image), image.shape[1]
    above = line.above(cols)
    if not (above.any() and (~above).any()):
        return
    band = max(1, round(BAND * line.rows))
    near_sky = above & ~line.lower(-band).above(cols)
    near_ground = ~above & line.lower(band).above(cols)
    far_sky = above & line.lower(-2.0 * line.middle / 3.0).above(cols)
    sky, ground, glow, mirror, top = (
        float(median_of(stops[part])) if part.any() else math.nan
        for part in (above, ~above, near_sky, near_ground, far_sky)
    )
    full, floor = (math.log2(ends[image.main]) for ends in (image.room_dn, image.floor_dn))
    end_stops = 0.01  # a middle tone this near to saturation or to the floor is not recorded
    told = None if ground >= full - end_stops else round(sky - ground, 3)
    near = None if told is None or mirror >= full - end_stops else round(glow - mirror, 3)
    sky_blown, ground_unlit = sky >= full - end_stops, ground <= floor + end_stops
    why = None  # a figure is missing, or only the least it can be
    if told is None:
        why = RemarkCode.GROUND_BLOWN
    elif sky_blown:
        why = RemarkCode.SKY_BLOWN
    elif ground_unlit:
        why = RemarkCode.GROUND_UNLIT
    left, middle, right = (
        round(float(image.row_edge(row)), 4) for row in (line.left, line.middle, line.right)
    )
    yield SkyBalance(
        frame=shot.id,
        sky_over_ground_stops=told,
        sky_headroom_stops=_headroom(image, above),
        common_strength_stops=None if told is None else balancing_strength(told, near),
        horizon_at=middle,
        horizon_ends=(left, right),
        at_line_stops=near,
        kind=kind_for(line, glow - top),
        at_least=told is not None and (sky_blown or ground_unlit),
        remarks=() if why is None else (remark(why),),
    )


def kind_for(line: Horizon, glow_stops: float) -> GradKind:
    """Return the kind of filter that fits the line and the sky above it."""
    if line.support < LINE_WHOLE:
        return GradKind.SOFT
    return GradKind.REVERSE if glow_stops >= REVERSE_STOPS else GradKind.HARD


def _headroom(image: TileImage, above: Bool) -> float | None:
    """Return how much more light the sky could have taken; 0 where a part of it is blown."""
    if float(image.lost_bright[above].astype(np.float32).mean()) >= BLOWN_SHARE:
        return 0.0
    rooms = []
    # the sky's bright end: the light that all but this share of its tiles stay under
    bright_tiles = 0.999
    for colour, room_dn in enumerate(image.room_dn):
        sky = image.signal(colour)[above]
        sky = sky[np.isfinite(sky)]
        if len(sky) and float(np.quantile(sky, bright_tiles)) > 0:
            rooms.append(math.log2(room_dn / float(np.quantile(sky, bright_tiles))))
    return round(max(0.0, min(rooms)), 3) if rooms else None
