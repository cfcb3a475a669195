"""On either side of the numbers of tiles, and of seconds, that decide what is asked in a set-up."""

from __future__ import annotations

import numpy as np
import pytest

from auditor.group.evenness import corner_fall_off, radius_squared
from auditor.group.ratio import _chosen, _clear_of
from auditor.group.shots import closing_stamps
from auditor.model.arrays import F32
from auditor.model.half_sample_mode import Core
from tests.shoot_maker import Shoot
from tests.unit.test_group_choices import seen

SHAPE = (60, 60)


def first(tiles: int, value: float = 0.0, *, from_row: int = 0) -> F32:
    """So many tiles of one value, row after row; NaN elsewhere."""
    picture = np.full(SHAPE, np.nan, dtype=np.float32)
    picture.ravel()[from_row * SHAPE[1] :][:tiles] = value
    return picture


@pytest.mark.parametrize(("time_s", "closing"), [(10.3, False), (10.7, True)])
def test_a_clock_of_whole_seconds_may_lag(time_s: float, *, closing: bool) -> None:
    """The next frame is stamped nine seconds on: within the exposure by more than the slack?"""
    shoot = Shoot()
    for stamp_s, exposed_s in ((0.0, time_s), (9.0, 0.1)):
        shoot.take(None, stamp_s, exposed_s)
    facts = {frame.id: frame.facts for frame in shoot.frames}
    assert bool(closing_stamps([frame.source for frame in shoot.frames], facts)) == closing


@pytest.mark.parametrize(("right", "moved"), [(0.12, False), (0.18, True)])
def test_from_what_shift_on_a_picture_is_moved(right: float, *, moved: bool) -> None:
    """What is moved lacks the tiles that came in from outside."""
    laid = seen(100.0, shift=(right, 0.0)).onto((0.0, 0.0), 0, 4.0)
    assert bool(np.isnan(laid).any()) == moved


@pytest.mark.parametrize(("tiles", "told"), [(280, False), (320, True)])
def test_on_how_many_tiles_a_fall_off_is_fitted(tiles: int, *, told: bool) -> None:
    radius = radius_squared(SHAPE)
    places = np.linspace(0, radius.size - 1, tiles).astype(int)
    picture = np.full(SHAPE, np.nan, dtype=np.float32)
    picture.ravel()[places] = 0.5 * radius.ravel()[places]
    core = Core(float(np.nanmedian(picture)), 0.05, tiles, tiles)
    assert bool(corner_fall_off(picture, core)) == told


@pytest.mark.parametrize(("tiles", "below"), [(230, False), (270, True)])
def test_how_many_tiles_below_a_graduated_filter_are_enough(tiles: int, *, below: bool) -> None:
    """Where there are fewer the rows within the filter are asked too, its density taken off."""
    density = np.where(np.arange(SHAPE[0]) < 10, 2.0, 0.0)
    both = np.fmax(first(tiles, from_row=10), first(600, 2.0))
    static, _ = _clear_of(density, both, both)
    assert bool(np.isnan(static[:10]).all()) == below


@pytest.mark.parametrize(("tiles", "by_water"), [(54, True), (66, False)])
def test_with_how_few_static_tiles_the_ground_is_told_by_water(
    tiles: int, *, by_water: bool
) -> None:
    """The sky was held back by a stop; static ground is scarce, moving water is not."""
    part = _chosen(
        np.fmax(first(900, 1.0), first(tiles, from_row=30)),
        np.fmax(first(900, 1.0), first(900, from_row=30)),
        20,
    )
    assert part is not None
    assert part.by_water == by_water
