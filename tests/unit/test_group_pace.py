"""How fast the light changes about each frame, told by what holds still."""

from __future__ import annotations

import pytest

from auditor.group.grouping import group_shoot
from auditor.model.settings import GroupSettings
from tests.shoot_maker import Shoot
from tests.shoot_plans import SEEDS, SIX, coast

FALLS = -0.12
"""Stops a minute."""


def drifts(shoot: Shoot) -> dict[str, float]:
    return group_shoot(shoot.frames, GroupSettings()).drifts


@pytest.mark.parametrize("seed", SEEDS)
def test_the_light_falls_for_each_frame_filtered_or_not_and_of_other_set_ups(seed: int) -> None:
    shoot, place = Shoot(seed, light=lambda at_s: FALLS * at_s / 60.0), coast(seed)
    for at_s, time_s, nd in ((0.0, 0.125, None), (60.0, 8.0, SIX), (180.0, 0.25, None)):
        shoot.take(place, at_s, time_s, nd=nd or (0.0, 0.0, 0.0))
    shoot.take(coast(seed, 1), 240.0)
    told = drifts(shoot)
    assert set(told) == {frame.id for frame in shoot.frames}
    assert list(told.values()) == pytest.approx([FALLS] * 4, abs=0.02)


def test_no_drift_without_a_clock_and_none_of_frames_in_a_burst() -> None:
    shoot, place = Shoot(1), coast(1)
    for _ in range(3):
        shoot.take(place, 0.0, clock=False)
    assert drifts(shoot) == {}
    burst = Shoot(1)
    for at_s in (0.0, 2.0, 4.0):
        burst.take(place, at_s)
    assert drifts(burst) == {}


def test_flickering_light_tells_no_drift() -> None:
    shoot, place = Shoot(1, light=lambda at_s: 0.4 * (round(at_s / 60.0) % 2)), coast(1)
    for minute in range(5):
        shoot.take(place, 60.0 * minute)
    assert drifts(shoot) == {}
