"""Where in the picture channels are blown, against what the pixels are known to hold."""

from __future__ import annotations

import numpy as np
import pytest

from auditor.clipping.maps import clip_maps, patch_of
from auditor.model.arrays import F32, U16
from auditor.model.codes import LevelSource
from auditor.model.facts import FileFacts
from auditor.model.measurement import FrameMeasurement, Level, MosaicMeasurement, Pictures
from auditor.model.settled import SettledFrame
from tests.built_mosaics import RGGB, measured, mosaic_of
from tests.judge_maker import settled

SIDE = 240
CLIP_DN = 16383
BLOWN = Level(CLIP_DN, CLIP_DN, LevelSource.MEASURED)
LOWER = Level(16000.0, 16000.0, LevelSource.SHOOT)


def one_red_patch(stray_dn: int = 2000) -> U16:
    """A dim frame whose red is blown in a patch that ends within tiles, and a stray green pixel."""
    pixels = np.full((SIDE, SIDE), 2000, dtype=np.uint16)
    pixels[6:93:2, 3 * 2 : 67 : 2] = CLIP_DN
    pixels[200, 201] = stray_dn
    return pixels


def of(mosaic: MosaicMeasurement, levels: tuple[Level, ...]) -> SettledFrame:
    return settled(FrameMeasurement(FileFacts(), mosaic, None, Pictures(b"")), levels)


def tiles_with_red_blown(pixels: U16, found: MosaicMeasurement) -> F32:
    rows, cols = found.maps.shape
    half = found.maps.tile_px // 2
    red = (pixels[::2, ::2] == CLIP_DN).astype(np.float32)
    red = np.pad(red, ((0, rows * half - red.shape[0]), (0, cols * half - red.shape[1])))
    shares: F32 = red.reshape(rows, half, cols, half).mean(axis=(1, 3))
    return shares


def test_a_stray_pixel_of_another_channel_leaves_what_was_counted() -> None:
    pixels = one_red_patch(stray_dn=16100)
    found = measured(mosaic_of(pixels, RGGB))
    maps = clip_maps(of(found, (BLOWN, LOWER, LOWER, BLOWN)))
    expected = tiles_with_red_blown(pixels, found)
    touched = expected > 0
    assert maps.any_blown[touched] == pytest.approx(expected[touched])
    assert (maps.any_blown[~touched] > 0).sum() == 1, "the stray pixel's tile"


def test_every_channel_blown_is_told_only_where_every_one_is() -> None:
    pixels = one_red_patch()
    pixels[100:140, 100:140] = CLIP_DN
    maps = clip_maps(of(measured(mosaic_of(pixels, RGGB)), (BLOWN,) * 4))
    assert maps.blown_all_fraction == pytest.approx(40 * 40 / SIDE**2)
    assert maps.blown_fraction > maps.blown_all_fraction
    both = clip_maps(of(measured(mosaic_of(pixels, RGGB)), (BLOWN, LOWER, LOWER, BLOWN)))
    assert both.blown_all_fraction == pytest.approx(40 * 40 / SIDE**2)


def test_a_cut_under_the_settled_level_counts_no_more_than_is_blown() -> None:
    pixels = one_red_patch()
    pixels[100:140, 100:140] = 16100
    found = measured(mosaic_of(pixels, RGGB, white_dn=(CLIP_DN, 16000, 16000, CLIP_DN)))
    maps = clip_maps(of(found, (BLOWN,) * 4))
    assert maps.any_blown == pytest.approx(tiles_with_red_blown(pixels, found))


def test_a_patch_is_as_large_as_what_is_blown_of_it() -> None:
    pixels = one_red_patch()
    maps = clip_maps(of(measured(mosaic_of(pixels, RGGB)), (BLOWN,) * 4))
    patch = patch_of(maps.any_blown, maps.weight)
    assert patch is not None
    cells = (pixels[::2, ::2] == CLIP_DN).sum()
    assert patch.share == pytest.approx(cells / (SIDE // 2) ** 2)
    assert patch.share == pytest.approx(maps.blown_fraction)


def test_every_channel_is_blown_nowhere_where_one_alone_is_though_another_is_estimated() -> None:
    found = measured(mosaic_of(one_red_patch(stray_dn=16100), RGGB))
    maps = clip_maps(of(found, (BLOWN, LOWER, LOWER, BLOWN)))
    assert maps.blown_fraction > 0
    assert maps.blown_all_fraction == 0
