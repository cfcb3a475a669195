"""Set-ups: one tripod position and one framing."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from auditor.group.tile_image import tile_image, turned_like
from auditor.model.facts import LensFacts
from auditor.model.grouping import Grouping
from auditor.model.settings import GroupSettings
from tests.shoot_maker import LENS, GradGlass, Shoot
from tests.shoot_plans import SEEDS, SIX, TEN, coast
from tests.shoot_scene import Scene
from tests.told import group_shoot


def grouped(shoot: Shoot) -> Grouping:
    return group_shoot(shoot.frames, GroupSettings())


def sizes(shoot: Shoot) -> list[int]:
    return [len(setup.frames) for setup in grouped(shoot).setups]


@pytest.mark.parametrize("seed", SEEDS)
def test_light_filters_and_grads_leave_a_set_up_whole(seed: int) -> None:
    shoot = Shoot(seed, light=lambda at_s: -at_s / 200.0)
    place = coast(seed)
    shoot.take(place, 0.0)
    shoot.take(place, 30.0, 128.0, nd=TEN)
    shoot.take(place, 400.0, 0.5, grad=GradGlass(3.0, 0.4, 0.1))
    shoot.take(place, 900.0, 2.0, sky_less_ground=1.0)
    shoot.take(place, 1500.0, 16.0)
    assert sizes(shoot) == [5]


@pytest.mark.parametrize("seed", SEEDS)
def test_frames_far_too_dark_and_far_too_bright_stay_with_their_bracket(seed: int) -> None:
    shoot, place = Shoot(seed), coast(seed)
    for i, step in enumerate((0, -6, 6)):
        shoot.take(place, float(i), 2.0 ** (step - 3))
    assert sizes(shoot) == [3]


@pytest.mark.parametrize("seed", SEEDS)
def test_a_set_up_that_begins_with_a_blown_frame(seed: int) -> None:
    shoot = Shoot(seed)
    shoot.take(coast(seed, 1), 0.0)
    shoot.take(coast(seed), 120.0, 32.0)
    shoot.take(coast(seed), 160.0)
    assert sizes(shoot) == [1, 2]


@pytest.mark.parametrize("seed", SEEDS)
def test_a_slight_turn_is_a_new_framing_and_a_knock_is_not(seed: int) -> None:
    shoot, place = Shoot(seed), coast(seed)
    shoot.take(place, 0.0)
    shoot.take(place, 20.0, shift=(3.0, -1.0))
    shoot.take(place, 40.0, pan=0.15)
    assert sizes(shoot) == [2, 1]


@pytest.mark.parametrize("seed", SEEDS)
def test_shifts_are_told_in_pixels_right_and_down(seed: int) -> None:
    shoot, place = Shoot(seed), coast(seed)
    for shift in ((0.0, 0.0), (1.4, -0.6), (-2.0, 0.5)):
        shoot.take(place, 20.0 * len(shoot.frames), shift=shift)
    (setup,) = grouped(shoot).setups
    told = [value for shift in setup.shift_px if shift is not None for value in shift]
    assert told == pytest.approx([0.0, 0.0, 84.0, -36.0, -120.0, 30.0], abs=9.0)
    assert sum("moved by about" in note for note in setup.notes) == 2


def test_how_alike_frames_are_where_a_shift_was_told() -> None:
    shoot, place = Shoot(1), coast(1)
    shoot.take(place, 0.0)
    shoot.take(place, 20.0, shift=(2.0, -1.0))
    shoot.take(place, 21.0, 2.0**12)
    (setup,) = grouped(shoot).setups
    first, second, blown = setup.shift_correlation
    assert (first, blown) == (None, None)
    assert second is not None
    assert 0.75 < second < 1.0


@pytest.mark.parametrize("orientation", [1, 3, 6, 8])
def test_shifts_are_told_upright_whatever_the_orientation(orientation: int) -> None:
    shoot, place = Shoot(1), coast(1)
    shoot.take(place, 0.0, orientation=orientation)
    shoot.take(place, 20.0, shift=(2.0, -1.0), orientation=orientation)
    (setup,) = grouped(shoot).setups
    assert setup.shift_px[1] == pytest.approx((120.0, -60.0), abs=9.0)


def test_the_camera_turned_upright_is_a_new_framing() -> None:
    shoot = Shoot(1)
    shoot.take(coast(1), 0.0)
    shoot.take(Scene.invent(1, rows=96, cols=64), 20.0, orientation=6)
    assert sizes(shoot) == [1, 1]


@pytest.mark.parametrize("seed", SEEDS)
def test_coming_back_within_the_gap_is_the_same_set_up(seed: int) -> None:
    shoot, here, there = Shoot(seed), coast(seed), coast(seed, 1)
    for at_s, place in ((0.0, here), (300.0, there), (900.0, here)):
        shoot.take(place, at_s)
    assert sizes(shoot) == [2, 1]


@pytest.mark.parametrize("seed", SEEDS)
def test_coming_back_after_the_gap_is_another(seed: int) -> None:
    shoot, place = Shoot(seed, light=lambda at_s: -at_s / 3600.0), coast(seed)
    shoot.take(place, 0.0)
    shoot.take(place, 4000.0)
    assert sizes(shoot) == [1, 1]


@pytest.mark.parametrize("jump_s", [-3600.0, -86400.0, 7200.0])
@pytest.mark.parametrize("seed", SEEDS)
def test_a_clock_that_jumps_parts_nothing(seed: int, jump_s: float) -> None:
    shoot, here, there = Shoot(seed), coast(seed), coast(seed, 1)
    shoot.take(here, 0.0)
    shoot.take(here, 20.0, 8.0, nd=SIX, clock_s=20.0 + jump_s)
    shoot.take(here, 60.0, clock_s=60.0 + jump_s)
    shoot.take(there, 300.0, clock_s=300.0 + jump_s)
    found = grouped(shoot)
    assert [len(setup.frames) for setup in found.setups] == [3, 1]
    assert any("clock was set" in note for note in found.setups[0].notes)
    assert [pair.long for pair in found.siblings] == [shoot.frames[1].id]


@pytest.mark.parametrize("seed", SEEDS)
def test_another_lens_or_focal_length_is_another_set_up(seed: int) -> None:
    shoot, place = Shoot(seed), coast(seed)
    shoot.take(place, 0.0)
    shoot.take(place, 10.0, lens=LensFacts(LENS.model, 35.0))
    shoot.take(place, 20.0, lens=LensFacts("Brackwell 20 mm f/2.8", 24.0))
    assert sizes(shoot) == [1, 1, 1]


@pytest.mark.parametrize("seed", SEEDS)
def test_content_decides_where_the_files_tell_nothing(seed: int) -> None:
    shoot = Shoot(seed)
    bare = {"lens": LensFacts(), "clock": False, "exposure_known": False}
    for place in (coast(seed), coast(seed), coast(seed, 1), coast(seed, 1)):
        shoot.take(place, 20.0 * len(shoot.frames), **bare)  # type: ignore[arg-type]
    found = grouped(shoot)
    assert [len(setup.frames) for setup in found.setups] == [2, 2]
    assert found.setups[0].started_at is None
    assert found.setups[0].focal_mm is None
    assert found.siblings == ()


@pytest.mark.parametrize("seed", SEEDS)
def test_bare_sea_and_sky_match_by_their_horizon_for_a_while(seed: int) -> None:
    bare = {"shore_share": -0.5, "cloud_stops": 0.1, "wave_stops": 0.1, "bare": True}
    here = Scene.invent(seed, **bare)  # type: ignore[arg-type]
    higher = Scene.invent(seed, horizon=0.55, **bare)  # type: ignore[arg-type]
    shoot = Shoot(seed)
    shoot.take(here, 0.0)
    shoot.take(here, 300.0, 8.0, nd=SIX)
    shoot.take(higher, 600.0)
    assert sizes(shoot) == [2, 1]


def test_nothing_makes_nothing() -> None:
    assert group_shoot([], GroupSettings()) == Grouping()
    shoot = Shoot()
    shoot.take(None, 0.0, 30.0)
    assert grouped(shoot) == Grouping()


def test_every_setting_of_the_clock_is_told() -> None:
    shoot, place = Shoot(1), coast(1)
    for clock_s in (0.0, 20.0, 7260.0, 100.0):
        shoot.take(place, 20.0 * len(shoot.frames), clock_s=clock_s)
    (setup,) = grouped(shoot).setups
    told = [note for note in setup.notes if "clock was set" in note]
    assert [frame.id in note for frame, note in zip(shoot.frames[2:], told, strict=True)] == [
        True,
        True,
    ]


@pytest.mark.parametrize(("first", "second"), [(1, 6), (1, 8), (6, 1), (1, 3)])
def test_straight_down_the_orientation_tag_does_not_matter(first: int, second: int) -> None:
    """The sensor saw the same; the camera's sense of up was another."""
    shoot, place = Shoot(1), Scene.invent(1, horizon=0.02, shore_share=1.2)
    shoot.take(place, 0.0, orientation=first)
    shoot.take(place, 15.0, 8.0, nd=SIX, orientation=first)
    frame = shoot.frames[-1]
    facts = replace(frame.facts, orientation=second)
    shoot.kept[frame.id] = replace(shoot.kept[frame.id], facts=facts)
    shoot.frames[-1] = replace(frame, facts=facts)
    found = group_shoot(shoot.frames, GroupSettings())
    (setup,) = found.setups
    assert any("orientation tag" in note for note in setup.notes)
    (pair,) = found.siblings
    assert pair.filter_stops == pytest.approx(SIX[1], abs=0.05)


def test_a_camera_turned_on_its_side_is_another_set_up() -> None:
    shoot, place = Shoot(1), coast(1)
    shoot.take(place, 0.0)
    upright = Scene.invent(1, rows=96, cols=64)
    shoot.take(upright, 15.0, orientation=6)
    assert len(group_shoot(shoot.frames, GroupSettings()).setups) == 2


@pytest.mark.parametrize("orientation", range(1, 9))
def test_turned_like_another_is_what_that_orientation_makes(orientation: int) -> None:
    shoot, place = Shoot(1), coast(1)
    shoot.take(place, 0.0)
    frame = shoot.frames[0]
    plain = tile_image(frame)
    other = tile_image(replace(frame, facts=replace(frame.facts, orientation=orientation)))
    turned = turned_like(plain, orientation)
    np.testing.assert_array_equal(turned.pixels.whole.signal_dn, other.pixels.whole.signal_dn)
    assert (turned.height_px, turned.width_px) == (other.height_px, other.width_px)
    assert (turned.top_px, turned.left_px) == (other.top_px, other.left_px)
    back = turned_like(turned, 1)
    np.testing.assert_array_equal(back.detail, plain.detail)


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize("shore", [0.1, 0.4])
def test_other_views_of_one_kind_of_coast_never_join(seed: int, shore: float) -> None:
    """The horizon at one height, a filter put on meanwhile: only the rocks are others."""
    shoot = Shoot(seed)
    first, second = (Scene.invent(seed + n, shore_share=shore) for n in (0, 500))
    shoot.take(first, 0.0)
    shoot.take(second, 20.0, 8.0, nd=SIX)
    assert sizes(shoot) == [1, 1]


@pytest.mark.parametrize(
    ("first", "second", "pan"),
    [(3009, 3013, 0.0), (3009, 3057, 0.5), (3009, 3105, 0.5), (3053, 3055, 0.5)],
)
def test_other_views_that_look_half_alike_do_not_join(first: int, second: int, pan: float) -> None:
    """Of 24,000 pairs of invented coasts some that are most alike: correlations up to 0.57."""
    shoot = Shoot(first)
    shoot.take(coast(first), 0.0)
    shoot.take(coast(second), 5.0, pan=pan)
    assert sizes(shoot) == [1, 1]
