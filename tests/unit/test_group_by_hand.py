"""By hand: panoramas of brackets, uneven turns, sudden clouds, cameras without a clock."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import product

import numpy as np
import pytest

from auditor.model.rejected import GroupKind
from auditor.model.remark import Doubt
from auditor.model.settings import GroupSettings
from tests.effect_shoots import clouded
from tests.shoot_maker import Shoot
from tests.shoot_plans import SEEDS, SIX, coast
from tests.told import group_shoot


def panned_brackets(gap_s: float, order: tuple[int, ...] = (0, -2, 2)) -> Shoot:
    """Three frames of each of four framings, so many seconds between the framings."""
    shoot, at_s = Shoot(2), 0.0
    for turn in range(4):
        for step in order:
            shoot.take(coast(2, 2), at_s, 2.0 ** (step - 3), pan=0.35 * turn)
            at_s += 3.0
        at_s += gap_s - 3.0
    return shoot


@pytest.mark.parametrize(("gap_s", "joined"), [(30.0, True), (88.0, True), (125.0, False)])
def test_slow_brackets_join_up_to_a_minute_and_a_half_apart(gap_s: float, joined: bool) -> None:
    found = group_shoot(panned_brackets(gap_s).frames, GroupSettings())
    assert [len(run.frames) for run in found.panoramas] == ([12] if joined else [])
    assert len(found.brackets) == 4
    assert found.siblings == ()


@pytest.mark.parametrize("order", [(0, -2, 2), (-2, 0, 2), (2, 0, -2)], ids=str)
def test_like_is_held_against_like_whatever_the_order(order: tuple[int, ...]) -> None:
    (run,) = group_shoot(panned_brackets(40.0, order).frames, GroupSettings()).panoramas
    assert run.exposure_spread_stops == pytest.approx(0.0, abs=0.01)
    assert run.overlaps[2::3] == pytest.approx([0.65] * 3, abs=0.03)


def turned_by_hand(seed: int, overlap: float) -> tuple[Shoot, list[float]]:
    """Five framings that rise and fall by two hundredths of the height, and their overlaps."""
    shoot, rng, pan, overlaps = Shoot(seed), np.random.default_rng(seed), 0.0, []
    for number in range(5):
        rise = float(rng.uniform(-1.5, 1.5))
        shoot.take(coast(seed, 2), 5.0 * number, 1 / 30, pan=pan, shift=(0.0, rise))
        overlaps.append(overlap + float(rng.uniform(-0.05, 0.05)))
        pan += 1.0 - overlaps[-1]
    return shoot, overlaps[:4]


def test_turns_by_hand_are_told_or_refused_with_a_word() -> None:
    """A step that is little alike, with none like it beside it, ends a run or begins it later."""
    whole = none = 0
    for seed, overlap in product(range(400, 412), (0.25, 0.35, 0.5)):
        shoot, overlaps = turned_by_hand(seed, overlap)
        found = group_shoot(shoot.frames, GroupSettings())
        ids = tuple(frame.id for frame in shoot.frames)
        for run in found.panoramas:
            start, count = ids.index(run.frames[0]), len(run.frames)
            assert run.frames == ids[start : start + count]
            assert run.overlaps == pytest.approx(overlaps[start : start + count - 1], abs=0.04)
        told = {name for run in found.panoramas for name in run.frames}
        refused = [one.frames for one in found.rejected if one.what is GroupKind.PANORAMA]
        assert set(ids) - told <= {name for frames in refused for name in frames}
        whole += told == set(ids)
        none += not told
    assert (whole, none) == (31, 0), "as the documentation says"


TWO_AND_TWO = [(place, turn * 0.5) for place in (2, 7, 9) for turn in range(2)]


@pytest.mark.parametrize(
    ("framings", "seeds"),
    [
        ([(place, 0.0) for place in range(3, 8)], range(400, 406)),
        ([(2, 0.0), (2, 0.6), (7, 0.0), (8, 0.0)], range(400, 406)),
        (TWO_AND_TWO, (*range(104, 112), 135)),
    ],
    ids=["other places", "two framings, then other places", "two framings of each"],
)
def test_views_of_other_places_are_no_part_of_a_panorama(
    framings: list[tuple[int, float]], seeds: Sequence[int]
) -> None:
    """Not even where two coasts look alike at just the turn of those before."""
    for seed in seeds:
        shoot = Shoot(seed)
        for number, (place, pan) in enumerate(framings):
            shoot.take(coast(seed, place), 5.0 * number, 1 / 30, pan=pan)
        found = group_shoot(shoot.frames, GroupSettings())
        assert not found.panoramas, seed
        assert len(found.setups) == len(framings), seed


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("stops", [1.0, 2.0])
@pytest.mark.parametrize("after", [False, True])
def test_a_sudden_cloud_that_looks_like_a_weak_filter_has_low_confidence(
    seed: int, stops: float, after: bool
) -> None:
    def light(at_s: float) -> float:
        return -stops * (10.0 < at_s < 30.0)

    shoot = Shoot(seed, light=light, tint=clouded(seed, light))
    shoot.take(coast(seed), 0.0)
    shoot.take(coast(seed), 20.0, 0.125 * 2.0**stops)
    if after:
        shoot.take(coast(seed), 40.0)
    for pair in group_shoot(shoot.frames, GroupSettings()).siblings:
        assert {Doubt.WEAK, Doubt.CLOUD} & {doubt.code for doubt in pair.doubts}
        assert pair.confidence <= 0.5


@pytest.mark.parametrize("seed", SEEDS)
def test_without_a_clock_frames_of_one_view_join_and_others_do_not(seed: int) -> None:
    shoot = Shoot(seed)
    here = [shoot.take(coast(seed), 10.0 * n, clock=False) for n in range(2)]
    here.append(shoot.take(coast(seed), 20.0, 8.0, nd=SIX, clock=False))
    there = [shoot.take(coast(seed, 1), 30.0 + 10.0 * n, clock=False) for n in range(2)]
    found = group_shoot(shoot.frames, GroupSettings())
    assert [set(setup.frames) for setup in found.setups] == [set(here), set(there)]
    (pair,) = found.siblings
    assert pair.filter_stops == pytest.approx(SIX[1], abs=0.05)


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("turned", [3, 6, 8])
def test_a_camera_that_looks_down_and_turns_its_tag_is_one_set_up(seed: int, turned: int) -> None:
    """The same pixels of the sensor, tagged another way up."""
    shoot = Shoot(seed)
    shoot.take(coast(seed), 0.0)
    shoot.take(coast(seed), 20.0, 8.0, nd=SIX)
    long = shoot.frames[1]
    tagged = replace(long.facts, orientation=turned)
    measured = shoot.kept[long.id]
    shoot.kept[long.id] = replace(measured, facts=tagged)
    shoot.frames[1] = replace(long, facts=tagged)
    found = group_shoot(shoot.frames, GroupSettings())
    assert [len(setup.frames) for setup in found.setups] == [2]
    (pair,) = found.siblings
    assert pair.filter_stops == pytest.approx(SIX[1], abs=0.05)
