"""The invented coast: light that keeps its books, whatever moves in it."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from sample_generation.coast import Dusk, coast_radiance
from sample_generation.places import BAY, PLACES, STACKS
from sample_generation.plans import several
from sample_generation.sky import light_stops
from sample_generation.textures import SIZE, nearest, noise_tile, smooth, smoothstep
from sample_generation.views import Composition, Still, still

SIZE_PX = (240, 160)
STEADY = Dusk(altitude_deg=-1.5, sinking_deg_per_min=0.0)


@cache
def light(place: Composition, at_s: float, time_s: float, dusk: Dusk = STEADY) -> np.ndarray:
    return coast_radiance(place, dusk, at_s, time_s, SIZE_PX)


def view_of(place: Composition) -> Still:
    return still(place, *SIZE_PX)


@pytest.mark.parametrize("place", PLACES, ids=lambda place: place.name)
def test_every_place_has_sky_sea_and_land(place: Composition) -> None:
    view = view_of(place)
    sky = ~(view.solid | view.water)
    assert not np.any(view.solid & view.water)
    assert min(sky.mean(), view.water.mean(), view.solid.mean()) > 0.03
    assert np.all(light(place, 0.0, 0.01) >= 0.0)


def test_land_stands_still() -> None:
    view = view_of(STACKS)
    short, long = light(STACKS, 0.0, 0.01), light(STACKS, 40.0, 30.0)
    ratio = long[view.solid] / short[view.solid]
    assert np.abs(ratio - 1.0).max() < 1e-4


def test_waves_and_clouds_move() -> None:
    view = view_of(STACKS)
    first, later = light(STACKS, 0.0, 0.01), light(STACKS, 40.0, 0.01)
    for place, least in ((view.water, 0.05), (~(view.solid | view.water), 0.005)):
        change = np.abs(np.log2(later[place] / first[place]))
        assert np.mean(change) > least


def test_a_long_exposure_has_the_mean_light_of_short_ones() -> None:
    view = view_of(STACKS)
    shorts = np.mean([light(STACKS, 7.0 * n, 0.01)[view.water].mean() for n in range(40)])
    long = light(STACKS, 0.0, 280.0)[view.water].mean()
    assert long == pytest.approx(shorts, rel=0.03)


def test_a_long_exposure_smooths_the_sea() -> None:
    water = view_of(BAY).water

    def change(time_s: float) -> float:
        first, later = (light(BAY, at_s, time_s)[water] for at_s in (0.0, 90.0))
        return float(np.std(np.log2(later / first)))

    assert change(60.0) < 0.25 * change(0.01)


def test_a_calm_sea_is_the_mean_of_a_rough_one() -> None:
    calm = replace(STACKS, weather=replace(STACKS.weather, swell=0.0))
    view = view_of(STACKS)
    rough = np.mean([light(STACKS, 7.0 * n, 0.01)[view.water].mean() for n in range(40)])
    assert light(calm, 0.0, 0.01)[view.water].mean() == pytest.approx(rough, rel=0.03)


def test_twilight_darkens_as_the_tables_say() -> None:
    # Illuminance about 400 lx at sunset and 3.4 lx at the end of civil twilight (-6 degrees):
    # from memory, as common in tables of twilight.
    assert light_stops(-0.83) - light_stops(-6.0) == pytest.approx(np.log2(400 / 3.4), abs=0.7)
    assert light_stops(3.0) < 0.0 < light_stops(3.0) - light_stops(0.0)


def test_light_over_an_exposure_is_a_mean_of_light_not_of_stops() -> None:
    dusk = Dusk(altitude_deg=0.0, sinking_deg_per_min=0.0, drift_stops_per_min=-1.0)
    exact = (1.0 - 0.25) / (2.0 * np.log(2.0))  # mean of 2**-s for s from 0 to 2
    assert dusk.stops(0.0, 120.0) - dusk.stops(0.0) == pytest.approx(np.log2(exact), abs=0.002)


def test_the_picture_follows_the_ambient_light() -> None:
    darker = replace(STEADY, drift_stops_per_min=-0.5)
    first, later = light(STACKS, 0.0, 0.01), light(STACKS, 120.0, 0.01, darker)
    view = view_of(STACKS)
    stops = np.log2(later[view.solid].mean() / first[view.solid].mean())
    assert stops == pytest.approx(-1.0, abs=1e-3)


def test_a_knock_moves_the_picture_by_that_many_pixels() -> None:
    moved = coast_radiance(STACKS.shifted(5.0, -3.0, *SIZE_PX), STEADY, 0.0, 0.01, SIZE_PX)
    expected = np.roll(light(STACKS, 0.0, 0.01), (-3, 5), axis=(0, 1))
    inside = np.zeros(moved.shape[:2], dtype=bool)
    inside[10:-10, 10:-10] = True
    land = inside & np.roll(view_of(STACKS).solid, (-3, 5), axis=(0, 1))
    assert np.median(np.abs(moved[land] / expected[land] - 1.0)) < 0.01


def test_panned_neighbours_share_their_overlap() -> None:
    left, right = several(BAY, 2, 0.4)
    first, second = light(left, 0.0, 0.01), light(right, 0.0, 0.01)
    shared = round(0.4 * SIZE_PX[0])
    solid = view_of(left).solid[:, -shared:] & view_of(right).solid[:, :shared]
    assert solid.mean() > 0.02
    ratio = first[:, -shared:][solid] / second[:, :shared][solid]
    assert np.median(np.abs(ratio - 1.0)) < 0.01


def test_larger_pictures_show_the_same_scene() -> None:
    large = coast_radiance(STACKS, STEADY, 0.0, 0.01, (480, 320))
    halved = large.reshape(160, 2, 240, 2, 3).mean(axis=(1, 3))
    small = light(STACKS, 0.0, 0.01)
    sky = ~(view_of(STACKS).solid | view_of(STACKS).water)
    sky[-1:] = False
    assert np.median(np.abs(halved[sky] / small[sky] - 1.0)) < 0.01


def test_enlarging_leaves_no_place_without_light() -> None:
    large = coast_radiance(STACKS, STEADY, 0.0, 0.01, (1500, 1000))
    assert large.min() > 0.0


def test_noise_tiles_are_normal_and_without_a_seam() -> None:
    tile = noise_tile(3, 2.2)
    assert (tile.mean(), tile.std()) == (pytest.approx(0.0, abs=1e-5), pytest.approx(1.0))
    inside = np.abs(np.diff(tile, axis=1)).mean()
    assert np.abs(tile[:, 0] - tile[:, -1]).mean() < 1.5 * inside


def test_look_ups_wrap_and_meet_the_cells() -> None:
    tile = noise_tile(3, 2.2)
    x = np.array([0.0, 7.0, SIZE + 7.0, -1.0], dtype=np.float32)
    y = np.array([0.0, 3.0, SIZE * 2 + 3.0, 0.0], dtype=np.float32)
    expected = [tile[0, 0], tile[3, 7], tile[3, 7], tile[0, -1]]
    assert smooth(tile, x, y) == pytest.approx(expected)
    assert nearest(tile, x, y) == pytest.approx(expected)
    half = smooth(tile, np.array([0.5], np.float32), np.array([0.0], np.float32))
    assert half == pytest.approx((tile[0, 0] + tile[0, 1]) / 2)


def test_smoothstep_begins_and_ends_level() -> None:
    x = np.array([-1.0, 0.0, 0.5, 1.0, 2.0], dtype=np.float32)
    assert smoothstep(0.0, 1.0, x).tolist() == [0.0, 0.0, 0.5, 1.0, 1.0]
