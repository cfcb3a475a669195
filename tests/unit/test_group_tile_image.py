"""Images: what is kept of each frame for grouping."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from auditor.group.horizon import find_horizon
from auditor.group.tile_image import LONGEST, TileImage, tile_image
from auditor.model.codes import Layout
from auditor.model.measurement import NoiseEstimate, TileMaps
from auditor.model.shoot import ShootFrame
from tests.shoot_maker import BLACK_DN, SATURATION_DN, Shoot
from tests.shoot_plans import coast


def taken(time_s: float = 0.125, **more: int) -> tuple[Shoot, ShootFrame]:
    shoot = Shoot(1)
    shoot.take(coast(1), 0.0, time_s, **more)  # type: ignore[arg-type]
    return shoot, shoot.frames[0]


def changed(shoot: Shoot, frame: ShootFrame, **mosaic: object) -> TileImage:
    measured = shoot.kept[frame.id]
    shoot.kept[frame.id] = replace(measured, mosaic=replace(measured.mosaic, **mosaic))  # type: ignore[arg-type]
    return tile_image(frame)


def fourfold(maps: TileMaps) -> TileMaps:
    """Return the same picture in tiles half as large."""
    halves = [
        np.repeat(np.repeat(getattr(maps, name), 2, axis=-1), 2, axis=-2)
        for name in ("mean_dn", "max_dn", "over_share", "any_over_share", "all_over_share",
                     "detail")
    ]  # fmt: skip
    return TileMaps(maps.tile_px // 2, *halves)


def test_greens_are_averaged_and_colours_named() -> None:
    shoot, frame = taken()
    maps = shoot.kept[frame.id].mosaic.maps
    image = tile_image(frame)
    assert image.colours == ("R", "G", "B")
    greens_dn = (maps.mean_dn[1] + maps.mean_dn[2]) / 2
    assert image.signal(1) == pytest.approx(greens_dn)
    assert np.abs(np.log2(image.signal(2) / maps.mean_dn[3])).max() < 0.0008  # stops
    assert image.room_dn == (SATURATION_DN - BLACK_DN,) * 3


def test_a_frame_that_claims_to_clip_under_black_is_looked_at_all_the_same() -> None:
    shoot, frame = taken()
    planes = shoot.kept[frame.id].mosaic.planes
    silent = NoiseEstimate()
    above = tuple(replace(p, black_dn=SATURATION_DN + 9.0, noise=silent) for p in planes)
    image = changed(shoot, frame, planes=above)
    assert image.room_dn == (1.0, 1.0, 1.0)
    assert all(floor > 0 for floor in image.floor_dn)
    find_horizon(image)  # warnings are errors here: no logarithm of nothing


def held_bytes(image: TileImage) -> int:
    """Count the bytes that are really held: one zero may stand for a whole map."""
    maps = (*image.pixels.whole.signal_dn, image.lost_bright, image.lost_dark, image.detail)
    return sum(tiles.nbytes if any(tiles.strides) else tiles.itemsize for tiles in maps)


@pytest.mark.parametrize(("time_s", "most"), [(1 / 60, 62_000), (0.5, 87_000)])
def test_thousands_of_images_fit_in_memory(time_s: float, most: int) -> None:
    image = tile_image(taken(time_s)[1])
    assert max(image.shape) == LONGEST
    assert held_bytes(image) <= most


def test_the_brightest_tile_of_16_bits_is_a_number() -> None:
    shoot, frame = taken(1 / 60)
    maps = shoot.kept[frame.id].mosaic.maps
    mean = maps.mean_dn.copy()
    mean[:, 60, 10] = 65535.0
    assert np.isfinite(changed(shoot, frame, maps=replace(maps, mean_dn=mean)).signal(0)[60, 10])


def test_large_maps_are_pooled_to_the_same_image() -> None:
    shoot, frame = taken()
    coarse = tile_image(frame)
    fine = changed(shoot, frame, maps=fourfold(shoot.kept[frame.id].mosaic.maps))
    assert max(fine.shape) <= LONGEST
    assert fine.tile_px == coarse.tile_px
    for one, other in zip(fine.pixels.whole.signal_dn, coarse.pixels.whole.signal_dn, strict=True):
        assert np.array_equal(one, other, equal_nan=True)
    assert fine.row_shares() == pytest.approx(coarse.row_shares())


@pytest.mark.parametrize("orientation", [3, 6, 8])
def test_tile_images_are_upright(orientation: int) -> None:
    upright = tile_image(taken()[1])
    turned = tile_image(taken(orientation=orientation)[1])
    for one, other in zip(
        turned.pixels.whole.signal_dn, upright.pixels.whole.signal_dn, strict=True
    ):
        assert np.array_equal(one, other)
    assert (turned.width_px, turned.height_px) == (upright.width_px, upright.height_px)


@pytest.mark.parametrize(("orientation", "side"), [(3, "height"), (8, "width")])
def test_rows_of_a_picture_turned_over_end_at_its_foot(orientation: int, side: str) -> None:
    """The sensor's last tiles reach beyond it by 40 pixels: there the upright picture begins."""
    shoot, frame = taken(orientation=orientation)
    size = getattr(shoot.kept[frame.id].mosaic, side) - 40
    image = changed(shoot, frame, **{side: size})
    assert image.height_px == size
    assert image.row_shares()[-1] == pytest.approx(1.0 - 30 / size)
    plain = changed(*taken(), height=size)
    assert plain.row_shares()[0] == pytest.approx(30 / size)


LEFT, RIGHT, TOP, FOOT = np.s_[:, 0], np.s_[:, -1], np.s_[0], np.s_[-1]


@pytest.mark.parametrize(
    ("orientation", "side", "cut", "whole"),
    [
        (1, "width", RIGHT, LEFT), (1, "height", FOOT, TOP),
        (2, "width", LEFT, RIGHT), (2, "height", FOOT, TOP),
        (3, "width", LEFT, RIGHT), (3, "height", TOP, FOOT),
        (4, "width", RIGHT, LEFT), (4, "height", TOP, FOOT),
        (5, "width", FOOT, TOP), (5, "height", RIGHT, LEFT),
        (6, "width", FOOT, TOP), (6, "height", LEFT, RIGHT),
        (7, "width", TOP, FOOT), (7, "height", LEFT, RIGHT),
        (8, "width", TOP, FOOT), (8, "height", RIGHT, LEFT),
    ],
)  # fmt: skip
def test_tiles_cut_at_the_sensors_edge_weigh_less_wherever_they_come_to_lie(
    orientation: int, side: str, cut: tuple[slice, int], whole: tuple[slice, int]
) -> None:
    shoot, frame = taken(orientation=orientation)
    size = getattr(shoot.kept[frame.id].mosaic, side)
    areas = changed(shoot, frame, **{side: size - 40}).areas()
    assert areas.sum() == pytest.approx(1.0)
    assert areas[cut] == pytest.approx(areas[whole] / 3)
    level = tile_image(taken(orientation=orientation)[1]).areas()
    assert level == pytest.approx(1.0 / level.size)


def test_lost_shares_of_pooled_tiles_weigh_what_lies_on_the_sensor() -> None:
    """Of the last pair of rows the first lies on the sensor whole, the second by a fifth."""
    shoot, frame = taken()
    maps = fourfold(shoot.kept[frame.id].mosaic.maps)
    top, share = maps.max_dn.copy(), maps.any_over_share.copy()
    mean = maps.mean_dn.copy()
    mean[:, -2:], top[:, -2:], share[-2:] = 100.0, BLACK_DN, 0.0
    mean[:, -1], top[:, -1], share[-1] = SATURATION_DN - BLACK_DN, SATURATION_DN, 1.0
    maps = replace(maps, mean_dn=mean, max_dn=top, any_over_share=share)
    height = shoot.kept[frame.id].mosaic.height - round(0.8 * maps.tile_px)
    image = changed(shoot, frame, maps=maps, height=height)
    assert image.lost_bright[-1] == pytest.approx(0.2 / 1.2, abs=1e-3)


def test_blown_tiles_are_unknown_and_counted_as_lost() -> None:
    image = tile_image(taken(0.5)[1])
    blown = np.isnan(image.signal(1))
    assert 0.2 < blown.mean() < 0.6
    assert (image.lost_bright[blown] > 0).mean() > 0.95
    assert image.lost_bright[~np.isnan(image.pixels.whole.signal_dn).any(axis=0)].max() == 0.0


def test_a_blown_tile_loses_what_was_counted() -> None:
    shoot, frame = taken(1 / 60)
    maps = shoot.kept[frame.id].mosaic.maps
    mean, top, share = maps.mean_dn.copy(), maps.max_dn.copy(), maps.any_over_share.copy()
    mean[:, 60, 10] = SATURATION_DN - BLACK_DN
    top[:, 60, 10], share[60, 10] = SATURATION_DN, 0.8
    maps = replace(maps, mean_dn=mean, max_dn=top, any_over_share=share)
    assert changed(shoot, frame, maps=maps).lost_bright[60, 10] == pytest.approx(0.8, abs=1e-3)


def test_a_hot_pixel_in_a_dark_tile_loses_nothing() -> None:
    shoot, frame = taken(1 / 60)
    maps = shoot.kept[frame.id].mosaic.maps
    top, share = maps.max_dn.copy(), maps.over_share.copy()
    top[0, 60, 10], share[0, 60, 10] = 16383, 1e-3
    image = changed(shoot, frame, maps=replace(maps, max_dn=top, over_share=share))
    assert np.isfinite(image.signal(0)[60, 10])
    assert image.lost_bright[60, 10] == 0.0


def test_an_unmeasured_floor_is_guessed_with_care_and_said() -> None:
    frame = taken()[1]
    image = tile_image(replace(frame, noise=(NoiseEstimate(),) * 4))
    assert not image.floor_known
    assert image.floor_dn[0] == pytest.approx((SATURATION_DN - BLACK_DN) / 1024)


def test_one_colour_sensors_have_one_colour() -> None:
    shoot, frame = taken()
    mosaic = shoot.kept[frame.id].mosaic
    maps = replace(
        mosaic.maps,
        mean_dn=mosaic.maps.mean_dn[1:2],
        max_dn=mosaic.maps.max_dn[1:2],
        over_share=mosaic.maps.over_share[1:2],
    )
    mono = (replace(mosaic.planes[1], name="L"),)
    frame = replace(frame, levels=frame.levels[:1], noise=frame.noise[:1])
    image = changed(shoot, frame, maps=maps, planes=mono, layout=Layout.MONO)
    assert image.colours == ("L",)
    assert image.main == 0


def test_a_cap_is_told_from_a_dark_scene() -> None:
    shoot = Shoot(1)
    shoot.take(None, 0.0, 30.0)
    shoot.take(coast(1), 0.0, 1 / 1000)
    cap, scene = (tile_image(frame) for frame in shoot.frames)
    assert cap.is_dark
    assert not scene.is_dark
