"""How much light each frame of a set-up got for its settings: one level a frame, in stops.

In steady light without filters all levels are alike. A filter puts a frame's level lower by its
stops; falling light lets the levels sink from frame to frame. Levels are told by tiles that hold
still, in the lower half of the picture where it can be, for graduated filters and clouds live
in the upper half.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from auditor.group.setups import SetupShots
from auditor.group.shots import Shot
from auditor.light.exposure import exposure_difference_stops
from auditor.model.arrays import F32, F64, Bool, median_known, median_of
from auditor.model.half_sample_mode import half_sample_mode

ROUNDS = 3
SCENE_FRAMES = 60
"""Of longer series every n-th frame makes the scene."""


@dataclass(frozen=True, slots=True, eq=False)
class Levels:
    """Levels of the frames of a set-up.

    Parameters
    ----------
    settings_stops : array, shape (n,)
        What each frame's settings record more than the first known one's; NaN where unknown.
    level_stops : array, shape (n,)
        Signal over settings against the set-up's scene; NaN where it cannot be told.
    sky_stops : array, shape (n,)
        The upper third less the lower third of signal over settings over scene; NaN where too
        little is recorded. A graduated filter lowers it.
    recorded : array of bool, shape (n, rows, cols)
        Tiles that the frame and the scene record, aligned to the first frame.
    """

    settings_stops: F64
    level_stops: F64
    sky_stops: F64
    recorded: Bool


def settings_stops(shots: Sequence[Shot]) -> F64:
    """Return each frame's settings in stops against the first whose settings are known."""
    first = next((s for s in shots if s.facts.exposure.time_s), shots[0])
    found = [
        exposure_difference_stops(shot.facts.exposure, first.facts.exposure, absent_is_same=True)
        for shot in shots
    ]
    return np.array([np.nan if stops is None else stops for stops in found])


def levels_of(setup: SetupShots) -> Levels:
    """Work out the levels of one set-up by turns: scene from levels, levels from scene."""
    settings = settings_stops(setup.shots)
    maps = np.stack([_aligned_stops(setup, i) for i in range(len(setup.shots))])
    maps -= np.nan_to_num(settings)[:, None, None].astype(np.float32)
    # a first guess chains the frames to a growing scene, the best recorded one first
    order = np.argsort(-np.isfinite(maps).sum(axis=(1, 2)), kind="stable")
    scene, levels = maps[order[0]].copy(), np.zeros(len(maps))
    for i in order[1:]:
        levels[i] = _level(maps[i] - scene)
        if np.isfinite(levels[i]):
            scene = np.where(np.isnan(scene), maps[i] - np.float32(levels[i]), scene)
    for _ in range(ROUNDS):
        some = slice(None, None, max(1, len(maps) // SCENE_FRAMES))
        scene = median_known(maps[some] - levels[some, None, None].astype(np.float32), axis=0)
        levels = np.array([_level(one - scene) for one in maps])
    levels = np.where(np.isfinite(settings), levels, np.nan)
    maps -= scene
    tops, third = np.full(len(maps), np.nan), maps.shape[1] // 3
    least_tiles = 20  # of the upper and of the lower third, to tell one by the other
    for i, residual in enumerate(maps):  # the sky less the ground, where enough of both is seen
        sky, ground = (part[np.isfinite(part)] for part in (residual[:third], residual[-third:]))
        if min(len(sky), len(ground)) >= least_tiles:
            tops[i] = median_of(sky) - median_of(ground)
    return Levels(settings, levels, tops, np.isfinite(maps))


def _level(residual: F32) -> float:
    lower = half_sample_mode(residual[residual.shape[0] // 2 :])
    enough_tiles = 120  # tiles of the lower half from which the upper half is not asked
    if lower is not None and lower.of >= enough_tiles:
        return lower.value
    whole = half_sample_mode(residual)
    return np.nan if whole is None else whole.value


def tints_of(setup: SetupShots, where: Bool) -> F64:
    """Return the colour of the light in some frames of a set-up: red and blue less green, in stops.

    Parameters
    ----------
    setup : SetupShots
    where : array of bool, shape (n,)
        Frames without a filter, whose colour is the light's.

    Returns
    -------
    array, shape (n, 2)
        Against the median of these frames; NaN elsewhere, and where it cannot be told.
    """
    tints = np.full((len(where), 2), np.nan)
    places, image = [int(i) for i in np.flatnonzero(where)], setup.shots[0].image
    if len(places) < 2 or not {"R", "B"} <= set(image.colours):
        return tints
    green = np.stack([_aligned_stops(setup, i) for i in places])
    for column, name in enumerate(("R", "B")):
        colour = image.colours.index(name)
        maps = np.stack([_aligned_stops(setup, i, colour) for i in places]) - green
        scene = median_known(maps[:: max(1, len(maps) // SCENE_FRAMES)], axis=0)
        tints[places, column] = [_level(one - scene) for one in maps]
    return tints


def _aligned_stops(setup: SetupShots, index: int, colour: int | None = None) -> F32:
    image = setup.shots[index].image
    right, down = setup.shifts[index] or (0.0, 0.0)
    stops = image.stops(image.main if colour is None else colour)
    return moved(stops, -round(down), -round(right))


def moved(picture: F32, down: int, right: int) -> F32:
    """Move a picture by whole tiles; NaN comes in at the edges."""
    if not down and not right:
        return picture
    rows, cols = picture.shape
    result = np.full_like(picture, np.nan)
    result[max(0, down) : rows + min(0, down), max(0, right) : cols + min(0, right)] = picture[
        max(0, -down) : rows - max(0, down), max(0, -right) : cols - max(0, right)
    ]
    return result
