"""How fast the light changes about each frame, told by what holds still."""

from __future__ import annotations

import numpy as np
import pytest

from auditor.group.grouping import group_shoot
from auditor.group.pace import Pace
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


def pace(*stretches: tuple[float, float, float]) -> Pace:
    """Make a pace from (middle, span, change of the light) of each stretch."""
    at_s, span_s, change = np.array(stretches, dtype=np.float64).reshape(-1, 3).T
    return Pace(at_s, span_s, np.column_stack([change / span_s, change * np.nan, change * np.nan]))


@pytest.mark.parametrize(
    ("span_s", "change", "jumps"),
    [(60.0, 0.46, False), (60.0, -0.54, True), (60.0, 0.54, True), (20.0, 0.23, False),
     (20.0, 0.31, True), (110.0, 0.9, True), (150.0, 3.0, False)],
)  # fmt: skip
def test_light_that_changes_faster_than_daylight_within_two_minutes_jumps(
    span_s: float, change: float, jumps: bool
) -> None:
    assert (pace((0.0, span_s, change)).jump_chance > 0.1) is jumps


def test_jumps_count_against_the_changes_without_one() -> None:
    assert pace().jump_chance == pytest.approx(0.05), "what is thought beforehand"
    steady = [(60.0 * n, 60.0, 0.0) for n in range(6)]
    assert pace(*steady).jump_chance == pytest.approx(0.02)
    assert pace(*steady[:4], (300.0, 60.0, 1.4), (360.0, 60.0, -1.4)).jump_chance == pytest.approx(
        0.22
    )


def test_how_the_light_bends_between_two_moments() -> None:
    falls = [(at_s, 60.0, -0.001 * at_s) for at_s in (30.0, 90.0, 390.0, 450.0)]
    told = pace(*falls).bend(120.0, 360.0)
    assert told == pytest.approx(-0.001 / 60.0), "by the nearest stretches on both sides"
    assert pace(*falls[:2]).bend(120.0, 360.0) is None
    assert pace(*falls, (600.0, 20.0, 2.0), (640.0, 20.0, -2.0)).bend(120.0, 360.0) is None
    assert pace(*falls).bend(2000.0, 2100.0) is None
