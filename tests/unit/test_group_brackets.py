"""Brackets: steps, order, what is covered, what is needed."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from auditor.advise.blend import with_blends
from auditor.model.audit import Bracket
from auditor.model.settings import GroupSettings, JudgeSettings
from tests.shoot_maker import BLACK_DN, SATURATION_DN, Shoot
from tests.shoot_plans import SEEDS, SIX, coast, shutter_for
from tests.shoot_scene import Scene
from tests.told import group_shoot


def brackets(shoot: Shoot) -> tuple[Bracket, ...]:
    grouping = group_shoot(shoot.frames, GroupSettings())
    return with_blends(grouping, shoot.frames, 1.0).brackets


def burst(shoot: Shoot, place: Scene, steps: tuple[float, ...], start: float = 0.0) -> list[str]:
    return [shoot.take(place, start + i * 1.5, 2.0 ** (step - 3)) for i, step in enumerate(steps)]


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize(
    ("steps", "step", "order"),
    [
        ((0, -1, 1, -2, 2), 1.0, "0 −1 +1 −2 +2"),
        ((-2, 0, 2), 2.0, "−1 0 +1"),
        ((2 / 3, 1 / 3, 0, -1 / 3, -2 / 3), 1 / 3, "+2 +1 0 −1 −2"),
    ],
)
def test_steps_and_order(seed: int, steps: tuple[float, ...], step: float, order: str) -> None:
    shoot = Shoot(seed)
    frames = burst(shoot, coast(seed), steps)
    (bracket,) = brackets(shoot)
    assert bracket.frames == tuple(frames)
    assert bracket.step_stops == pytest.approx(step, abs=0.01)
    assert bracket.order == order


@pytest.mark.parametrize("seed", SEEDS)
def test_two_brackets_in_a_row_and_a_test_shot_before_them(seed: int) -> None:
    shoot, place = Shoot(seed), coast(seed)
    burst(shoot, place, (1,))
    first = burst(shoot, place, (0, -1, 1, -2, 2), 3.0)
    second = burst(shoot, place, (0, -2, 2), 14.0)
    third = burst(shoot, place, (0, -2, 2), 22.0)
    found = [bracket.frames for bracket in brackets(shoot)]
    assert found == [tuple(first), tuple(second), tuple(third)]


@pytest.mark.parametrize("seed", SEEDS)
def test_exposures_that_follow_the_light_are_no_bracket(seed: int) -> None:
    shoot, place = Shoot(seed, light=lambda at_s: -at_s / 15.0), coast(seed)
    for i in range(6):
        shoot.take(place, i * 10.0, shutter_for(shoot.light(i * 10.0)))
    assert brackets(shoot) == ()


@pytest.mark.parametrize("seed", SEEDS)
def test_same_exposures_and_slow_series_are_no_bracket(seed: int) -> None:
    shoot, place = Shoot(seed), coast(seed)
    burst(shoot, place, (0, 0, 0, 0))
    for i, step in enumerate((0, -1, 1)):
        shoot.take(place, 100.0 + 60.0 * i, 2.0 ** (step - 3))
    assert brackets(shoot) == ()


@pytest.mark.parametrize("seed", SEEDS)
def test_a_filtered_frame_is_no_part_of_a_bracket(seed: int) -> None:
    shoot, place = Shoot(seed), coast(seed)
    shoot.take(place, 0.0, 1 / 16)
    shoot.take(place, 1.0, 1 / 4)
    shoot.take(place, 2.0, 1.0, nd=SIX)
    assert brackets(shoot) == ()


@pytest.mark.parametrize("seed", SEEDS)
def test_a_filtered_bracket_is_one(seed: int) -> None:
    shoot, place = Shoot(seed), coast(seed)
    shoot.take(place, 0.0)
    frames = [
        shoot.take(place, 20.0 + 30.0 * i, 2.0 ** (step + 3), nd=SIX)
        for i, step in enumerate((0, -1, 1))
    ]
    grouping = group_shoot(shoot.frames, GroupSettings(bracket_gap_s=30.0))
    assert [bracket.frames for bracket in grouping.brackets] == [tuple(frames)]
    assert [pair.long for pair in grouping.siblings] == frames


def test_covered_shares_and_the_smallest_set() -> None:
    """A scene of 9 stops: bright and dark parts each need a frame of their own."""
    shoot, place = Shoot(3), Scene.invent(3, sky_over_ground=8.0, cloud_stops=0.1)
    frames = burst(shoot, place, (-8, -5, -2, 1))
    (bracket,) = brackets(shoot)
    assert bracket.covered_fraction == pytest.approx(1.0, abs=1e-3)
    assert bracket.covered_by_frame[frames[3]] < 0.8
    assert set(bracket.needed) | set(bracket.not_needed) == set(frames)
    assert 1 <= len(bracket.needed) < 4
    needed = [bracket.covered_by_frame[name] for name in bracket.needed]
    assert all(share > 0.2 for share in needed)
    assert bracket.lost_bright_fraction == pytest.approx(0.0, abs=1e-3)


def test_what_even_the_whole_bracket_loses() -> None:
    shoot, place = Shoot(3), Scene.invent(3, sky_over_ground=6.0, cloud_stops=0.1)
    burst(shoot, place, (-1, 0, 1))
    (bracket,) = brackets(shoot)
    sky = float(place.sky[24:152, 192:384].mean())
    assert bracket.lost_bright_fraction == pytest.approx(sky, abs=0.05)
    assert bracket.covered_fraction == pytest.approx(1.0 - bracket.lost_bright_fraction, abs=0.01)
    assert "blown even in the darkest frame" in " ".join(bracket.notes)


def test_one_frame_is_enough_where_one_holds_it_all() -> None:
    shoot = Shoot(2)
    burst(shoot, Scene.invent(2, sky_over_ground=1.0), (0, -1, 1))
    (bracket,) = brackets(shoot)
    assert len(bracket.needed) == 1
    assert math.isclose(bracket.covered_fraction, bracket.covered_by_frame[bracket.needed[0]])


def lose(shoot: Shoot, frame: str, tiles: tuple[slice, slice], *, bright: bool) -> None:
    """Blow or block some tiles of a frame that has been taken."""
    measured = shoot.kept[frame]
    maps = measured.mosaic.maps
    mean, highest, any_over = maps.mean_dn.copy(), maps.max_dn.copy(), maps.any_over_share.copy()
    mean[:, *tiles] = SATURATION_DN - BLACK_DN if bright else 0.0
    highest[:, *tiles] = SATURATION_DN if bright else BLACK_DN
    any_over[tiles] = float(bright)
    maps = replace(maps, mean_dn=mean, max_dn=highest, any_over_share=any_over)
    shoot.kept[frame] = replace(measured, mosaic=replace(measured.mosaic, maps=maps))


def test_a_frame_that_alone_holds_a_patch_called_lost_is_needed() -> None:
    shoot = Shoot(2)
    frames = burst(shoot, Scene.invent(2, sky_over_ground=1.0), (0, -1, 1))
    patch = slice(50, 51), slice(30, 32)
    rows, cols = shoot.kept[frames[0]].mosaic.maps.shape
    assert JudgeSettings().patch_limit < 2 / (rows * cols) < 5e-4
    for frame in (frames[0], frames[2]):
        lose(shoot, frame, patch, bright=True)
    lose(shoot, frames[1], (slice(40, 43), slice(10, 20)), bright=False)
    (bracket,) = brackets(shoot)
    assert frames[1] in bracket.needed
    assert len(bracket.needed) == 2


def test_a_place_is_held_where_one_plane_is_over_its_floor() -> None:
    """As a frame's blocked share is defined: every plane must be under its floor."""
    shoot = Shoot(2)
    frames = burst(shoot, Scene.invent(2, sky_over_ground=1.0), (0, -1, 1))
    whole = [bracket.covered_fraction for bracket in brackets(shoot)]
    for frame in frames:
        measured = shoot.kept[frame]
        mean = measured.mosaic.maps.mean_dn.copy()
        mean[0, 40:43, 10:20] = 0.0
        maps = replace(measured.mosaic.maps, mean_dn=mean)
        shoot.kept[frame] = replace(measured, mosaic=replace(measured.mosaic, maps=maps))
    assert [bracket.covered_fraction for bracket in brackets(shoot)] == whole


@pytest.mark.parametrize(("cut_px", "weight"), [(0, 1.0), (40, 1 / 3)])
def test_tiles_at_the_edge_weigh_by_the_area_they_cover(cut_px: int, weight: float) -> None:
    shoot = Shoot(2)
    frames = burst(shoot, Scene.invent(2, sky_over_ground=1.0), (0, -1, 1))
    for frame in frames:
        lose(shoot, frame, (slice(63, 64), slice(None)), bright=True)
        measured = shoot.kept[frame]
        mosaic = replace(measured.mosaic, height=measured.mosaic.height - cut_px)
        shoot.kept[frame] = replace(measured, mosaic=mosaic)
    (bracket,) = brackets(shoot)
    lost = weight / (63 + weight)
    assert bracket.lost_bright_fraction == pytest.approx(lost)
    assert bracket.covered_fraction == pytest.approx(1.0 - lost)
    assert bracket.covered_by_frame[frames[1]] == pytest.approx(1.0 - lost)
