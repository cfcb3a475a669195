"""Lost data leave their traces; clean frames of all kinds show none."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import ndimage

from auditor.defects.row_breaks import _is_lifted
from auditor.model.measurement import DamageSign
from auditor.model.mosaic import BlackLevels, Mosaic
from auditor.words.notes import DAMAGE_SENTENCES
from sample_generation.camera import SimulatedCamera
from sample_generation.layouts import LAYOUT_NAMES
from tests.built_mosaics import (
    BLACK_DN,
    RGGB,
    border_of,
    coast,
    exposed,
    measured,
    mosaic_of,
    noisy,
)

SHAPE = (400, 600)


def scene() -> NDArray[np.float64]:
    """Something that differs along every row: bumps of several sizes, with noise."""
    y, x = np.mgrid[: SHAPE[0], : SHAPE[1]]
    rng = np.random.default_rng(2)
    bumps = sum(
        np.cos(x * rng.uniform(0.05, 0.5) + y * rng.uniform(-0.03, 0.03) + rng.uniform(0, 6))
        for _ in range(24)
    )
    return noisy(3000.0 + 150.0 * bumps, SHAPE)


def damaged(values: NDArray[np.float64] | None = None, **changes: object) -> Mosaic:
    pixels = scene() if values is None else values
    facts = {"masked": (border_of((20, 600)),)} | changes
    return mosaic_of(np.rint(pixels).clip(0, 65535), RGGB, **facts)


def signs(mosaic: Mosaic) -> tuple[DamageSign, ...]:
    return measured(mosaic).damage


def only_sign(values: NDArray[np.float64]) -> DamageSign:
    (sign,) = signs(damaged(values))
    return sign


def test_a_whole_scene_shows_none() -> None:
    assert signs(damaged()) == ()


def test_a_picture_of_zeros() -> None:
    sign = only_sign(np.zeros(SHAPE))
    assert (sign.kind, sign.share) == ("empty plane", 1.0)


def test_a_picture_of_nearly_all_zeros() -> None:
    values = scene()
    values[10:] = 0
    sign = only_sign(values)
    assert sign.kind == "empty plane"
    assert sign.share == pytest.approx(0.975)


def test_one_plane_of_zeros() -> None:
    values = scene()
    values[1::2, 0::2] = 0
    sign = only_sign(values)
    assert (sign.kind, sign.share) == ("empty plane", 0.25)
    assert "1 of 4" in DAMAGE_SENTENCES[sign.kind](sign)


def test_zeroed_rows() -> None:
    values = scene()
    values[300:] = 0
    sign = only_sign(values)
    assert sign.kind == "empty rows"
    assert sign.share == pytest.approx(0.25)
    assert "100 whole rows" in DAMAGE_SENTENCES[sign.kind](sign)


def test_zeroed_rows_of_three_samples_are_counted_once() -> None:
    values = np.stack([scene()] * 3, axis=-1)
    values[300:] = 0
    (sign,) = signs(mosaic_of(np.rint(values).clip(0, 65535)))
    assert DAMAGE_SENTENCES[sign.kind](sign) == "100 whole rows hold no picture data."


@pytest.mark.parametrize(("level_dn", "lost"), [(0.4, True), (0.6, False)])
def test_rows_of_noise_and_drifting_black_are_no_lost_data(level_dn: float, lost: bool) -> None:
    values = scene()
    values[200:210] = BLACK_DN * level_dn
    values[200:210] += np.random.default_rng(2).normal(0.0, 2.0, (10, values.shape[1]))
    assert any(sign.kind == "empty rows" for sign in signs(damaged(values))) == lost


def test_one_zeroed_row() -> None:
    values = scene()
    values[200] = 0
    sign = only_sign(values)
    assert DAMAGE_SENTENCES[sign.kind](sign) == "1 whole row holds no picture data."


def test_a_zeroed_sector_within_a_row() -> None:
    values = scene()
    values[200, 100:500] = 0
    sign = only_sign(values)
    assert sign.kind == "constant block"
    assert sign.share == pytest.approx(400 / values.size)


def test_foreign_bytes() -> None:
    values = scene()
    values[200:204] = np.random.default_rng(1).integers(0, 65536, (4, 600))
    sign = only_sign(values)
    assert (sign.kind, sign.kind.certain) == ("impossible values", True)
    assert sign.share == pytest.approx(3 / 400, rel=0.1)


def test_a_block_that_stands_still() -> None:
    values = scene()
    values[120:200, 80:240] = 2345
    sign = only_sign(values)
    assert (sign.kind, sign.kind.certain) == ("even cells", False)
    assert sign.share == pytest.approx(80 * 160 / values.size, rel=0.15)


def test_two_cells_that_stand_still_are_a_block_and_one_is_none() -> None:
    values = scene()
    values[120:124, 80:88] = 2345
    assert only_sign(values).kind == "even cells"
    values = scene()
    values[120:124, 80:84] = 2345
    assert signs(damaged(values)) == ()


def test_cells_that_stand_still_apart_or_at_other_values_are_chance() -> None:
    values = scene()
    values[120:124, 80:84] = values[120:124, 96:100] = values[160:164, 200:204] = 2345
    assert signs(damaged(values)) == ()
    values[120:124, 80:84], values[120:124, 84:88] = 2345, 2346
    assert signs(damaged(values)) == ()


SMOOTHERS: dict[str, Callable[[NDArray[np.float64]], NDArray[np.float64]]] = {
    "a little": lambda plane: ndimage.gaussian_filter(plane, 0.8),
    "much": lambda plane: ndimage.gaussian_filter(plane, 1.5),
    "medians": lambda plane: ndimage.median_filter(plane, 5),
    "to steps": lambda plane: 512.0 + 8.0 * np.rint((plane - 512.0) / 8.0),
}


@pytest.mark.parametrize("how", SMOOTHERS)
def test_shadows_that_a_camera_smoothed_are_no_damage(how: str) -> None:
    """The border tells the sensor's noise; calm places hold one value, and so do those beside."""
    light = np.where(np.arange(SHAPE[0]) < 200, 20.0, 3000.0)[:, None] * np.ones(SHAPE)
    values = noisy(light, SHAPE)
    for row in (0, 1):
        for col in (0, 1):
            values[row:190:2, col::2] = SMOOTHERS[how](values[row:190:2, col::2])
    assert signs(damaged(values)) == ()


Y, X = np.mgrid[: SHAPE[0], : SHAPE[1]]
EDGES: dict[str, NDArray[np.float64]] = {
    "lamps that flicker on a bare wall": 3000.0 * np.where(Y // 37 % 2, 1.0, 0.6),
    "one flicker on a bare wall": 3000.0 * np.where(Y < 211, 1.0, 0.6),
    "fog: an even sky over an even sea": np.where(Y < 200, 3000.0, 2850.0),
    "an even sky over a dark even sea": np.where(Y < 200, 6000.0, 3000.0),
    "slopes of light above and below": np.where(Y < 200, 5000.0 + 3 * Y + 2 * X, 1500.0 + X / 2),
    "the curtain in a flash": 3000.0 * (1.0 + 1.5 * np.clip((206 - Y) / 6.0, 0.0, 1.0)),
    "blinds": 3000.0 * np.where(Y // 16 % 2, 1.0, 0.3),
    "still water": (3000.0 + 400 * np.cos(X / 11) + 200 * np.cos(X / 3))
    * np.where(Y < 200, 1, 0.7),
    "a bar across a window": np.where((Y > 190) & (Y < 210), 60.0, 4000.0 + 200 * np.cos(X / 5)),
}


@pytest.mark.parametrize("scene_of", EDGES)
def test_level_edges_of_scenes_are_no_damage(scene_of: str) -> None:
    assert signs(damaged(noisy(EDGES[scene_of], SHAPE))) == ()


def test_what_shows_no_trace_is_not_told() -> None:
    """Rows that were doubled, displaced by two pixels, or erased to the white level of the file."""
    doubled, displaced, erased = scene(), scene(), scene()
    doubled[200:210] = doubled[190:200]
    displaced[250:] = np.roll(displaced[250:], 2, axis=1)
    erased[300:] = 16383
    for values in (doubled, displaced, erased):
        assert signs(damaged(values)) == ()


@pytest.mark.parametrize("move_px", [26, 74, -140])
def test_rows_displaced_sideways(move_px: int) -> None:
    values = scene()
    values[250:] = np.roll(values[250:], move_px, axis=1)
    sign = only_sign(values)
    assert sign.kind == "row jump"
    assert sign.share == pytest.approx(150 / 400, abs=0.006)


@pytest.mark.parametrize("lift_dn", [900, -700])
def test_rows_lifted_by_one_amount(lift_dn: int) -> None:
    values = scene()
    values[250:] += lift_dn
    sign = only_sign(values)
    assert sign.kind == "row jump"
    assert "row 25" in DAMAGE_SENTENCES[sign.kind](sign)


def test_dead_pixels_lie_alone_and_are_no_damage() -> None:
    values, rng = scene(), np.random.default_rng(3)
    values[rng.integers(0, 400, 300), rng.integers(0, 600, 300)] = 0
    assert signs(damaged(values)) == ()


def test_single_pixels_beyond_the_bit_depth_are_no_damage() -> None:
    values, rng = scene(), np.random.default_rng(3)
    values[rng.integers(0, 400, 300), rng.integers(0, 600, 300)] = 20000
    assert signs(damaged(values)) == ()


def test_a_regular_pattern_set_off_by_half_is_no_damage() -> None:
    """Palings, courses of bricks: alike at many displacements, so none of them is the true one."""
    y, x = np.mgrid[: SHAPE[0], : SHAPE[1]]
    palings = np.cos(2 * np.pi * (x / 48.0 + 0.5 * (y >= 200)))
    assert signs(damaged(noisy(3000.0 + 900.0 * palings, SHAPE))) == ()


def test_a_level_horizon_is_no_damage() -> None:
    y, x = np.mgrid[: SHAPE[0], : SHAPE[1]]
    for edge in (200.0, 200.5, 201.0):
        sky = 9000.0 * (1 + 0.3 * np.cos(x / 90.0))
        sea = 1200.0 * (1 + 0.2 * np.sin(x / 3.0 + y / 2.0))
        assert signs(damaged(noisy(np.where(y < edge, sky, sea), SHAPE))) == ()


@pytest.mark.parametrize(("level_dn", "told"), [(2.2, True), (1.8, False)])
def test_rows_far_above_the_claimed_white_level_are_lost_whatever_the_bits(
    level_dn: float, told: bool
) -> None:
    values = scene()
    values[200:204, :300] = level_dn * 16383 + np.random.default_rng(1).normal(0, 300, (4, 300))
    whole = damaged(values, white_dn=(16383.0,) * 4, bit_depth=16)
    assert any(sign.kind == "impossible values" for sign in signs(whole)) is told


def boards() -> NDArray[np.float64]:
    """Boards side by side, each of its own tone, the same from top to bottom."""
    tones = np.random.default_rng(5).uniform(0.7, 1.3, SHAPE[1] // 12 + 1)
    return np.repeat(tones, 12)[: SHAPE[1]] * np.ones(SHAPE)


@pytest.mark.parametrize("factor", [0.5, 0.7, 1.4])
@pytest.mark.parametrize("row", [200, 201])
def test_a_shadow_s_edge_across_boards_is_no_damage(factor: float, row: int) -> None:
    """A wall or a pier, sharp to the pixel: what lies in shade is scaled, not lifted."""
    light = np.where(np.arange(SHAPE[0]) < row, 1.0, factor)[:, None]
    assert signs(damaged(noisy(4000.0 * boards() * light, SHAPE))) == ()


@pytest.mark.parametrize("step_dn", [8, 40, 100])
def test_lossy_codes_far_apart_are_no_damage(step_dn: int) -> None:
    """8-bit codes: where they lie further apart than the noise, places hold one value."""
    y, x = np.mgrid[: SHAPE[0], : SHAPE[1]]
    values = noisy(2000.0 + 3.0 * x + 2.0 * y, SHAPE)
    codes = 512.0 + step_dn * np.rint((values - 512.0) / step_dn)
    assert signs(damaged(codes, masked=())) == ()
    assert signs(damaged(codes)) == ()


def test_small_cells_alike_by_chance_are_no_damage() -> None:
    """In a large even picture of little noise a few places of four pixels a plane are alike."""
    quiet = noisy(600.0, (1200, 1800), gain=0.002, read=0.8)
    assert signs(damaged(quiet, masked=(border_of((20, 1800), read=0.8),))) == ()


def test_a_blown_sky_is_no_damage() -> None:
    values = scene()
    values[:200] = 16383
    assert signs(damaged(values)) == ()
    assert signs(damaged(np.full(SHAPE, 16383.0))) == ()


def test_dark_frames_are_no_damage() -> None:
    assert signs(damaged(noisy(0.0, SHAPE))) == ()
    cut_off = np.maximum(noisy(0.0, SHAPE) - 512.0, 0.0)
    zero = BlackLevels(np.zeros((1, 1)))
    assert signs(damaged(cut_off, black=zero, masked=())) == ()


def test_quiet_values_that_rounding_makes_even_are_no_damage() -> None:
    darker_half = np.where(np.arange(SHAPE[0]) < 200, 3.0, 40.0)[:, None]
    quiet = noisy(darker_half, SHAPE, gain=0.001, read=0.05)
    assert signs(damaged(quiet, masked=(border_of((20, 600), black=512.2, read=0.05),))) == ()


@pytest.mark.parametrize("layout", LAYOUT_NAMES)
@pytest.mark.parametrize("stops", [-6, 4])
def test_frames_of_the_simulated_camera_are_whole(layout: str, stops: int) -> None:
    camera = SimulatedCamera(layout=layout, width=600, height=400)
    light = coast(400, 600) * np.float32(51200.0 * 64.0 * 2.0**stops)
    assert signs(camera.expose(light, 1.0, rng=4).mosaic) == ()
    taken = exposed(layout, 100.0, 600, 400).mosaic
    assert signs(replace(taken, masked=())) == ()


@pytest.mark.parametrize(("contrast", "lifted"), [(1.12, True), (1.18, False), (0.88, True)])
def test_lifted_rows_keep_their_contrast_within_fifteen_percent(
    contrast: float, lifted: bool
) -> None:
    upper = 20.0 * np.random.default_rng(2).standard_normal(400)
    assert _is_lifted(upper, contrast * upper + 100.0, noise=1.0, alike=1.0) is lifted
