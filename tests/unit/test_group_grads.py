"""Graduated filters from pairs, and the sky over the ground from single frames."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import cast

import numpy as np
import pytest

from auditor.group.grad_curve import Curve, fit_curve
from auditor.group.grads import GradPair, grad_record, profile_of
from auditor.group.horizon import Horizon
from auditor.group.setups import SetupShots
from auditor.group.shots import by_body
from auditor.group.skies import kind_for
from auditor.group.tile_image import tile_image
from auditor.model.arrays import F32, F64
from auditor.model.audit import Grad, SkyBalance
from auditor.model.grouping import Grouping
from auditor.model.remark import RemarkCode
from auditor.model.settings import GroupSettings
from auditor.words.remarks import sentences
from tests.before_the_lens import aslant, held, places, reverse
from tests.shoot_maker import GradGlass, Shoot
from tests.shoot_plans import SEEDS, SIX, coast
from tests.shoot_scene import Scene
from tests.told import group_shoot


def grouped(shoot: Shoot) -> Grouping:
    return group_shoot(shoot.frames, GroupSettings())


def only(shoot: Shoot) -> Grad:
    (grad,) = grouped(shoot).grads
    return grad


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize(
    "glass",
    [GradGlass(3.0, 0.4, 0.08), GradGlass(2.0, 0.5, 0.3), GradGlass(1.0, 0.35, 0.15),
     GradGlass(4.0, 0.6, 0.2)],
    ids=str,
)  # fmt: skip
def test_strength_edge_and_softness(seed: int, glass: GradGlass) -> None:
    shoot, place = Shoot(seed), coast(seed)
    without = shoot.take(place, 0.0)
    with_ = shoot.take(place, 25.0, 0.25, grad=glass)
    grad = only(shoot)
    assert (grad.without, grad.with_) == (without, with_)
    assert grad.stops_at_top == pytest.approx(glass.stops, abs=0.1)
    assert grad.edge_at == pytest.approx(glass.edge, abs=0.03)
    assert grad.transition == pytest.approx(glass.transition, abs=0.06)


def test_the_profile_is_the_density_over_the_height() -> None:
    shoot, place, glass = Shoot(1), coast(1), GradGlass(3.0, 0.4, 0.2)
    shoot.take(place, 0.0)
    shoot.take(place, 5.0, grad=glass)
    profile = np.array(only(shoot).profile_stops)
    off = np.abs(profile - glass.density(len(profile)))
    assert len(profile) == 64
    assert np.median(off) < 0.03


def test_a_row_that_holds_two_tones_stays_out_of_the_profile() -> None:
    """The horizon's row is half sky and half ground: its median stands apart from both."""
    curve = Curve(base=0.2, top=3.0, edge=0.36, width=0.05)
    y = (np.arange(64) + 0.5) / 64
    rows = curve.base + curve.stops(y)
    tiles = np.repeat(rows[:, None], 96, axis=1).astype(np.float32)
    tiles[22] -= 0.42
    tiles[45, ::2] = np.nan
    profile = profile_of(y, tiles, curve)
    assert profile == pytest.approx(curve.stops(y), abs=0.01)
    assert (np.diff(profile) <= 0.01).all()


@pytest.mark.parametrize(("rise", "is_tried"), [(0.0, False), (0.25, False), (0.35, True)])
def test_no_curve_is_fitted_where_the_top_stands_where_the_bottom_does(
    monkeypatch: pytest.MonkeyPatch, rise: float, is_tried: bool
) -> None:
    """Clouds scatter the top so far that no curve fits better than none: only the rise differs."""
    tried: list[Curve] = []

    def fitted(_at: F64, _stops: F64, start: Curve, _error: float) -> Curve:
        tried.append(start)
        return start

    monkeypatch.setattr("auditor.group.grad_curve._fitted", fitted)
    rng = np.random.default_rng(1)
    tiles = rng.normal(0.0, 0.02, (48, 72))
    tiles[:8] = rise + np.where(np.arange(72) % 2 == 0, 4.0, -4.0)
    fit_curve((np.arange(48) + 0.5) / 48, tiles.astype(np.float32))
    assert bool(tried) is is_tried


def test_a_profile_that_leaves_the_curve_over_many_rows_is_kept() -> None:
    curve = Curve(base=0.0, top=3.0, edge=0.36, width=0.05)
    y = (np.arange(64) + 0.5) / 64
    rows = curve.stops(y) + 0.3 * np.exp(-(((y - 0.2) / 0.1) ** 2))
    tiles = np.repeat(rows[:, None], 96, axis=1).astype(np.float32)
    assert profile_of(y, tiles, curve) == pytest.approx(rows, abs=0.01)


def test_the_edge_is_where_half_of_the_top_density_is_left() -> None:
    curve = Curve(base=0.0, top=2.0, edge=0.3, width=0.1)
    assert curve.stops(np.array([0.0, curve.edge_at])) == pytest.approx([2.0, 1.0], abs=1e-9)


@pytest.mark.parametrize("seed", SEEDS)
def test_a_grad_with_a_uniform_filter_besides(seed: int) -> None:
    shoot, place = Shoot(seed), coast(seed)
    shoot.take(place, 0.0)
    shoot.take(place, 20.0, 16.0, nd=SIX, grad=GradGlass(2.0, 0.4, 0.2))
    grad = only(shoot)
    assert grad.stops_at_top == pytest.approx(2.0, abs=0.1)
    assert any("6.0 stops less light besides" in note for note in grad.notes)


@pytest.mark.parametrize(("more", "told"), [(0.4, True), (0.58, False)])
def test_left_and_right_must_show_the_same_density(more: float, told: bool) -> None:
    def sky_to_the_left(signal: F32) -> F32:
        y, x = places(signal)
        return held(signal, more * ((x < 1 / 3) & (y < 0.4)))

    shoot, place = Shoot(1), Scene.invent(1, cloud_stops=0.05)
    shoot.take(place, 0.0)
    shoot.take(place, 5.0, grad=GradGlass(3.0, 0.42, 0.15), through=sky_to_the_left)
    assert bool(grouped(shoot).grads) is told


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("degrees", [3.0, 8.0, 20.0, 30.0])
def test_a_grad_aslant_is_told_where_its_edge_is_in_the_middle_or_not_at_all(
    seed: int, degrees: float
) -> None:
    shoot, place = Shoot(seed), coast(seed)
    shoot.take(place, 0.0)
    shoot.take(place, 20.0, 16.0, nd=SIX, through=aslant(2.0, degrees))
    for grad in grouped(shoot).grads:
        assert grad.edge_at == pytest.approx(0.42, abs=0.05)
        assert grad.stops_at_top == pytest.approx(2.0, abs=0.15)


@pytest.mark.parametrize("seed", SEEDS)
def test_two_strengths_each_against_the_frame_without(seed: int) -> None:
    shoot, place = Shoot(seed), coast(seed)
    without = shoot.take(place, 0.0)
    for at_s, stops in ((15.0, 1.0), (30.0, 3.0)):
        shoot.take(place, at_s, grad=GradGlass(stops, 0.4, 0.2))
    grads = grouped(shoot).grads
    assert [grad.without for grad in grads] == [without, without]
    assert [grad.stops_at_top for grad in grads] == pytest.approx([1.0, 3.0], abs=0.1)


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("change", [-1.5, 1.5])
def test_a_sky_that_dims_or_brightens_by_itself_is_no_grad(seed: int, change: float) -> None:
    shoot, place = Shoot(seed), coast(seed)
    shoot.take(place, 0.0)
    shoot.take(place, 60.0, sky_less_ground=change)
    assert grouped(shoot).grads == ()


def sky(shoot: Shoot) -> SkyBalance:
    (balance,) = grouped(shoot).skies
    return balance


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize(("over", "strength"), [(2.4, 1.0), (4.6, 3.0)])
def test_how_the_sky_stands_over_the_ground(seed: int, over: float, strength: float) -> None:
    """The invented sky falls off by 0.8 stop upwards, the ground lies 0 to 0.6 stop lower."""
    shoot = Shoot(seed)
    shoot.take(Scene.invent(seed, sky_over_ground=over, cloud_stops=0.1, horizon=0.4), 0.0, 1 / 30)
    balance = sky(shoot)
    assert balance.horizon_at == pytest.approx(0.4, abs=0.06)
    assert balance.sky_over_ground_stops is not None
    assert over - 0.9 <= balance.sky_over_ground_stops <= over + 0.3
    wanted = balance.sky_over_ground_stops - 1.0
    assert balance.common_strength_stops == pytest.approx(wanted, abs=0.5)
    assert balance.common_strength_stops == pytest.approx(strength, abs=1.0)


def test_what_the_sky_had_in_hand() -> None:
    shoot = Shoot(1)
    place = Scene.invent(1, sky_over_ground=3.0, cloud_stops=0.1)
    shoot.take(place, 0.0, 1 / 8)
    shoot.take(place, 5.0, 1 / 16)
    shoot.take(place, 10.0, 0.5)
    rooms = [balance.sky_headroom_stops for balance in grouped(shoot).skies]
    assert None not in rooms
    first, second, blown = (float(room) for room in rooms if room is not None)
    assert second - first == pytest.approx(1.0, abs=0.05)
    assert blown == 0.0


def test_a_blown_sky_stands_at_least_so_high() -> None:
    shoot, place = Shoot(1), Scene.invent(1, sky_over_ground=4.0, cloud_stops=0.1)
    shoot.take(place, 0.0, 1 / 30)
    shoot.take(place, 5.0, 0.5)
    whole, blown = grouped(shoot).skies
    assert (whole.at_least, blown.at_least) == (False, True)
    assert blown.sky_over_ground_stops is not None
    assert blown.sky_over_ground_stops < (whole.sky_over_ground_stops or 0.0)
    assert "at least so much" in blown.notes[0]


def test_where_the_ground_is_blown_too_the_sky_cannot_be_told() -> None:
    shoot, place = Shoot(1), Scene.invent(1, sky_over_ground=4.0, cloud_stops=0.1)
    shoot.take(place, 0.0, 1 / 30)
    shoot.take(place, 5.0, 30.0)
    lost = grouped(shoot).skies[1]
    assert (lost.sky_over_ground_stops, lost.common_strength_stops) == (None, None)
    assert "ground is blown too" in lost.notes[0]


def test_an_even_sky_needs_no_grad_and_a_bare_wall_has_none() -> None:
    shoot = Shoot(1)
    shoot.take(Scene.invent(1, sky_over_ground=1.0, cloud_stops=0.05), 0.0)
    assert sky(shoot).common_strength_stops is None
    wall = Shoot(1)
    wall.take(Scene.invent(1, horizon=0.02, shore_share=1.2), 0.0)
    assert grouped(wall).skies == ()


def test_a_grad_shows_in_the_balance() -> None:
    shoot, place = Shoot(2), Scene.invent(2, sky_over_ground=4.0, cloud_stops=0.1)
    shoot.take(place, 0.0)
    shoot.take(place, 5.0, grad=GradGlass(2.0, 0.42, 0.05))
    before, after = (balance.sky_over_ground_stops for balance in grouped(shoot).skies)
    assert before is not None
    assert after is not None
    assert before - after == pytest.approx(2.0, abs=0.25)


def test_light_that_rose_meanwhile_is_not_called_held_back() -> None:
    shoot = Shoot(1)
    for at_s in (0.0, 100.0):
        shoot.take(coast(1), at_s)
    (shots,) = by_body((frame, tile_image(frame)) for frame in shoot.frames)
    pair = GradPair(0, 1, Curve(base=-0.7, top=2.0, edge=0.4, width=0.05), (2.0, 2.0, 1.0), 0.0)
    grad = grad_record(pair, SetupShots(shots), "S01")
    assert sentences(grad.remarks) == (
        "All of the picture got 0.7 stop more light besides: the light had changed.",
    )


def kind_of(place: Scene) -> str:
    shoot = Shoot(1)
    shoot.take(place, 0.0, 1 / 30)
    return sky(shoot).kind


def test_the_kind_of_filter_follows_the_line_and_the_sky_above_it() -> None:
    assert kind_of(Scene.invent(1, bare=True, cloud_stops=0.05)) == "hard"
    glow = Scene.invent(1, bare=True, cloud_stops=0.05)
    rows = np.arange(glow.still_stops.shape[0])[:, None] / 2 - 12
    light = glow.still_stops + np.where(glow.sky, 1.2 * rows / (0.42 * 64), 0.0)
    assert kind_of(replace(glow, still_stops=light.astype(np.float32))) == "reverse"
    broken = np.arange(glow.still_stops.shape[1])[None, :] % 80 < 30
    rock = broken & (rows > 15) & (rows < 40)
    stacks = replace(
        glow, sky=glow.sky & ~rock, shore=rock, still_stops=np.where(rock, -1.0, glow.still_stops)
    )
    assert kind_of(stacks) == "soft"


def test_water_that_mirrors_the_sky_asks_for_no_more_than_it_lacks() -> None:
    """Dark rocks fill most of the ground, but a filter would lie on the bright sea above them."""
    place = Scene.invent(1, bare=True, cloud_stops=0.05, sky_over_ground=1.6)
    rows = np.arange(place.still_stops.shape[0])[:, None] / 2 - 12
    rocks = np.broadcast_to(rows > 40, place.sky.shape)
    shoot = Shoot(1)
    shoot.take(
        replace(place, shore=rocks, still_stops=np.where(rocks, -3.0, place.still_stops)),
        0.0,
        1 / 30,
    )
    balance = sky(shoot)
    assert balance.horizon_at == pytest.approx(0.42, abs=0.02)
    assert balance.sky_over_ground_stops == pytest.approx(4.3, abs=0.5)
    assert balance.at_line_stops == pytest.approx(1.0, abs=0.2)
    assert balance.common_strength_stops == 1.0


def test_a_ridge_is_told_with_the_reason_and_without_figures() -> None:
    shoot, place = Shoot(1), Scene.invent(1, bare=True)
    cols = np.arange(place.sky.shape[1])[None, :]
    rows = np.arange(place.sky.shape[0])[:, None] / 2 - 12
    ridge = rows > 17 + 8 * np.sin(cols / 14.0)
    shoot.take(
        replace(place, sky=place.sky & ~ridge, shore=ridge,
                still_stops=np.where(ridge, -1.0, place.still_stops)), 0.0)  # fmt: skip
    balance = sky(shoot)
    assert (balance.horizon_at, balance.common_strength_stops) == (None, None)
    assert "do not agree on a straight line" in balance.notes[0]


@pytest.mark.parametrize(
    ("support", "glow", "kind"),
    [(0.7, 2.0, "soft"), (0.8, 2.0, "reverse"), (0.8, 1.2, "reverse"), (0.8, 0.8, "hard")],
)
def test_how_broken_the_line_and_how_bright_the_glow_must_be(
    support: float, glow: float, kind: str
) -> None:
    line = Horizon(left=25.0, right=25.0, support=support, rows=64)
    assert kind_for(line, glow) == kind


@pytest.mark.parametrize("stops", [2.0, 3.0])
def test_a_reverse_filter_is_told_by_its_density_at_the_top_and_at_its_edge(stops: float) -> None:
    grads: list[Grad] = []
    for seed in range(600, 604):
        shoot, place = Shoot(seed), coast(seed)
        shoot.take(place, 0.0)
        shoot.take(place, 20.0, 0.25, through=reverse(stops))
        grads += grouped(shoot).grads
    assert len(grads) >= 2, "else it is none: the curve does not fit"
    for grad in grads:
        assert grad.stops_at_top == pytest.approx(stops / 2.0, abs=0.15)
        (told,) = (one for one in grad.remarks if one.code is RemarkCode.DENSEST_BELOW)
        assert told.number("stops") == pytest.approx(stops, abs=0.3)


@pytest.mark.parametrize(("left", "told"), [(0.09, 2.0), (0.15, 1.85), (-0.15, 2.15)])
def test_from_where_on_the_profile_tells_the_top(left: float, told: float) -> None:
    curve = Curve(base=0.0, top=2.0, edge=0.4, width=0.03)
    image = SimpleNamespace(row_shares=lambda: (np.arange(64) + 0.5) / 64)
    shots = [SimpleNamespace(id=name, image=image) for name in "ab"]
    profile = curve.stops(image.row_shares()) - left * (np.arange(64) < 10)
    pair = GradPair(0, 1, curve, tuple(profile), 0.0)
    record = grad_record(pair, cast(SetupShots, SimpleNamespace(shots=shots)), "S01")
    assert record.stops_at_top == pytest.approx(told, abs=0.01)
