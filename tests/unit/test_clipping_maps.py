"""Where in the picture channels are blown, against what the pixels are known to hold."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import ndimage

from auditor.advise.blend import _maps
from auditor.clipping.maps import clip_maps, local_means_dn, patch_of
from auditor.figures.frame import judge_frame
from auditor.group.tile_image import reduced
from auditor.model.arrays import F32, F64, U8, U16
from auditor.model.codes import LevelSource
from auditor.model.facts import FileFacts
from auditor.model.measurement import (
    FrameMeasurement,
    Level,
    MosaicMeasurement,
    NoiseEstimate,
    Pictures,
)
from auditor.model.settings import JudgeSettings
from auditor.model.settled import SettledFrame, settle
from tests.built_mosaics import BLACK_DN, KNOWN_NOISE, MONO, RGGB, measured, mosaic_of, noisy
from tests.judge_maker import card_file, settled

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


FLOOR_DN = KNOWN_NOISE.estimate.floor_dn or 0.0


def with_known_noise(signal_dn: F64, seed: int, pattern: U8 = RGGB) -> SettledFrame:
    """A signal recorded with noise, and that noise known."""
    pixels = np.rint(noisy(signal_dn, signal_dn.shape, seed=seed))
    found = FrameMeasurement(FileFacts(), measured(mosaic_of(pixels, pattern)), None, Pictures(b""))
    planes = len(found.mosaic.planes)
    return settle(found, [BLOWN] * planes, [KNOWN_NOISE.estimate] * planes)


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize("size", [(448, 672), (240, 1740), (160, 2448)])
@pytest.mark.parametrize(
    ("floors", "alone", "together"), [(0.5, 0.01, 0.01), (0.75, 0.015, 0.03), (1.5, 0.01, 0.01)]
)
def test_small_sensors_block_the_share_that_lies_under_the_floor(
    floors: float, alone: float, together: float, size: tuple[int, int], seed: int
) -> None:
    """Tiles of 16, 36 and 64 pixels a colour, as 0.3 to 4 megapixels have; the lower part is dark.

    A tile that one of four channels misses is missed by all together.
    """
    signal_dn = np.full(size, 3000.0)
    signal_dn[size[0] * 3 // 5 // 48 * 48 :] = floors * FLOOR_DN
    truth = float((signal_dn < FLOOR_DN).mean())
    result = judge_frame(card_file(), with_known_noise(signal_dn, seed), JudgeSettings())
    for channel in result.channels:
        assert channel.blocked_fraction == pytest.approx(truth, abs=alone)
    assert result.blocked_fraction == pytest.approx(truth, abs=together)


@pytest.mark.parametrize("size", [(448, 672), (240, 1740), (160, 2448)])
@pytest.mark.parametrize("share", [0.4, 1.0])
@pytest.mark.parametrize(("floors", "within"), [(0.5, 1.0), (1.0, 0.5), (2.2, 0.25)])
def test_noise_of_small_tiles_makes_no_dark_end(
    floors: float, within: float, share: float, size: tuple[int, int]
) -> None:
    """One tile in a hundred lies under the tone by noise: by half a floor where it is alone."""
    signal_dn = np.full(size, 3000.0)
    signal_dn[size[0] - round(size[0] * share) :] = floors * FLOOR_DN
    result = judge_frame(card_file(), with_known_noise(signal_dn, 1), JudgeSettings())
    for channel in result.channels:
        assert channel.shadow_room_stops == pytest.approx(np.log2(floors), abs=within)


@pytest.mark.parametrize("size", [(448, 672), (240, 1740)])
@pytest.mark.parametrize(
    ("floors", "known"), [(0.5, True), (1.5, True), (0.5, False), (1.5, False)]
)
def test_what_is_paired_and_blended_lies_under_the_floor_that_is_drawn_and_counted(
    floors: float, known: bool, size: tuple[int, int]
) -> None:
    """A guess stands in for a floor that is not known; nothing is judged by it."""
    floor_dn = FLOOR_DN if known else (CLIP_DN - BLACK_DN) / 1024.0
    signal_dn = np.full(size, 3000.0)
    signal_dn[size[0] * 3 // 5 // 48 * 48 :] = floors * floor_dn
    frame = with_known_noise(signal_dn, 6)
    if not known:
        frame = settle(frame.measurement, [BLOWN] * 4, [NoiseEstimate()] * 4)
    maps, image = clip_maps(frame), reduced(frame)
    assert maps.unlit.mean() == pytest.approx((signal_dn < floor_dn).mean(), abs=0.02)
    area, paired = frame.mosaic.tile_area, image.lost_dark.astype(np.float64)
    assert (paired * image.areas()).sum() == pytest.approx(area[maps.unlit].sum(), abs=0.02)
    assert (maps.blocked is not None) == known == image.floor_known
    recorded = _maps([frame, frame], 1.0).recorded
    assert np.array_equal(recorded[0], 1.0 - maps.unlit)


def test_a_dark_line_as_wide_as_a_tile_stays_dark_on_a_small_sensor() -> None:
    signal_dn = np.full((256, 384), 3.0 * FLOOR_DN)
    signal_dn.reshape(256, 6, 64)[:, :, :8] = 0.0
    blocked = clip_maps(with_known_noise(signal_dn, 4)).blocked
    assert blocked is not None
    assert blocked[:, ::8].mean() > 0.95
    assert np.delete(blocked, np.s_[::8], axis=1).mean() < 0.01


@pytest.mark.parametrize(
    ("pattern", "longest", "pixels", "joined"),
    [(MONO, 1900, 100, True), (MONO, 2000, 144, False),
     (RGGB, 2448, 64, True), (RGGB, 4242, 144, False), (RGGB, 8214, 484, False)],
)  # fmt: skip
def test_tiles_of_so_many_pixels_are_joined_with_those_around(
    pattern: U8, longest: int, pixels: int, joined: bool
) -> None:
    """Those off by a tenth of the floor are; those off by a twelfth or less stay as they are."""
    frame = with_known_noise(np.full((96, longest), FLOOR_DN), 5, pattern)
    assert frame.maps.tile_px**2 == pixels * pattern.size
    own, means = frame.maps.mean_dn, local_means_dn(frame)
    assert np.array_equal(own, means) != joined
    assert not joined or means.std() < 0.6 * own.std()


@pytest.mark.parametrize("dark_rows", [(0, 40), (100, 104), (200, 240), (0, 0)])
def test_means_are_joined_only_in_rows_that_are_dark_or_near_to_such(
    dark_rows: tuple[int, int],
) -> None:
    """Those joined everywhere say the same of the floor, and of half and of twice of it."""
    signal_dn = np.full((240, 1740), 40.0 * FLOOR_DN)
    signal_dn[slice(*dark_rows)] = FLOOR_DN
    frame = with_known_noise(signal_dn, 8)
    own, means = frame.maps.mean_dn, local_means_dn(frame)
    joined = np.stack([joined_with_all_around(tiles, frame) for tiles in own])
    assert (means == own).any()
    for floors in (0.5, 1.0, 2.0):
        assert np.array_equal(means < floors * FLOOR_DN, joined < floors * FLOOR_DN)
    near = (means != own) | (own < 12.0 * FLOOR_DN).any(axis=2, keepdims=True)
    assert means[near] == pytest.approx(joined[near], rel=1e-5)


def joined_with_all_around(tiles_dn: F32, frame: SettledFrame) -> F64:
    """By a library's convolution: the least squares of local mean and variance over 3 x 3 tiles."""
    around, area = np.ones((3, 3)), frame.mosaic.tile_area
    light = area * tiles_dn.astype(np.float64)
    weight, first, second = (
        ndimage.convolve(one, around, mode="constant") for one in (area, light, light * tiles_dn)
    )
    mean_dn, noise_dn2 = first / weight, FLOOR_DN**2 / (frame.maps.tile_px / 2) ** 2
    spread_dn2 = second / weight - mean_dn**2
    kept = 1.0 - noise_dn2 / np.maximum(spread_dn2, noise_dn2)
    joined: F64 = mean_dn + kept * (tiles_dn - mean_dn)
    return joined
