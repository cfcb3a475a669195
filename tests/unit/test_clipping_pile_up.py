"""The pile-up of clipped pixels: found in every guise, and never where nothing clips."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from auditor.clipping.pile_up import find_pile_up
from auditor.clipping.top import heap_at, top_of
from auditor.model.measurement import Histogram, NoiseEstimate, PileUp
from auditor.noise.estimate import NoiseModel
from tests.built_effects import packed_in_steps, remade
from tests.built_mosaics import (
    BLACK_DN,
    KNOWN_NOISE,
    RGGB,
    exposed,
    histogram_of,
    measured,
    mosaic_of,
    noisy,
    only_plane,
)

SHAPE = (500, 800)
CLIP_DN = 15000.0
UNKNOWN = NoiseModel(NoiseEstimate())


def heap_in(
    values: NDArray[Any], noise: NoiseModel = KNOWN_NOISE, white_dn: float = 16383.0, bits: int = 14
) -> PileUp | None:
    return find_pile_up(histogram_of(values), BLACK_DN, white_dn, bits, noise)


def sky(middle_dn: float, seed: int = 0) -> NDArray[np.float64]:
    """An even sky: nothing but noise about one signal."""
    return noisy(middle_dn, SHAPE, seed=seed)


def ramp(last_dn: float) -> NDArray[np.float64]:
    return np.broadcast_to(np.linspace(0, last_dn, SHAPE[1]), SHAPE)


def cut(values: NDArray[np.float64], spread_dn: float = 2.0) -> NDArray[np.float64]:
    limit = CLIP_DN + spread_dn * np.random.default_rng(8).standard_normal(values.shape)
    return np.minimum(values, limit)


@pytest.mark.parametrize("spread_dn", [0.0, 1.0, 2.0, 5.0, 10.0])
def test_the_clipping_level_may_spread_by_some_dn(spread_dn: float) -> None:
    values = noisy(ramp(18000.0), SHAPE)
    true_share = float((values > CLIP_DN).mean())
    heap = heap_in(cut(values, spread_dn))
    assert heap is not None
    assert heap.level_dn == pytest.approx(CLIP_DN, rel=1e-3)
    assert heap.spread_dn == pytest.approx(spread_dn, abs=1.0)
    assert heap.share == pytest.approx(true_share, rel=4e-3)
    assert heap.from_dn <= heap.level_dn


@pytest.mark.parametrize("white_dn", [4095.0, 12000.0, 15360.0, 65535.0])
def test_the_white_level_in_the_file_is_not_asked(white_dn: float) -> None:
    heap = heap_in(cut(noisy(ramp(18000.0), SHAPE)), white_dn=white_dn)
    assert heap is not None
    assert heap.level_dn == pytest.approx(CLIP_DN, abs=1.0)


def test_where_the_noise_is_not_known_a_heap_must_lie_near_the_white_level_in_the_file() -> None:
    values = cut(noisy(ramp(18000.0), SHAPE))
    assert heap_in(values, UNKNOWN, white_dn=16383.0) is not None
    assert heap_in(values, UNKNOWN, white_dn=22000.0, bits=16) is None


def test_third_stop_iso_that_is_pushed_leaves_a_comb() -> None:
    pushed = np.rint(np.rint(cut(noisy(ramp(18000.0), SHAPE)) - BLACK_DN) * 0.8) + BLACK_DN
    heap = heap_in(pushed)
    assert heap is not None
    assert heap.level_dn == pytest.approx(BLACK_DN + 0.8 * (CLIP_DN - BLACK_DN), abs=2.0)


@pytest.mark.parametrize("step", [8, 32])
def test_lossy_gaps_do_not_hide_it(step: int) -> None:
    coarse = np.rint(cut(noisy(ramp(18000.0), SHAPE)) / step) * step
    heap = heap_in(coarse)
    assert heap is not None
    assert heap.level_dn == pytest.approx(CLIP_DN, abs=step)


@pytest.mark.parametrize("step", [8, 32])
def test_lossy_gaps_make_none(step: int) -> None:
    coarse = np.rint(noisy(ramp(14000.0), SHAPE) / step) * step
    assert heap_in(coarse) is None


def test_a_few_pixels_above_the_heap_do_not_hide_it() -> None:
    values = cut(noisy(ramp(18000.0), SHAPE))
    values[::50, ::80] = 16300.0
    heap = heap_in(values)
    assert heap is not None
    assert heap.level_dn == pytest.approx(CLIP_DN, abs=1.0)


@pytest.mark.parametrize(("share", "found"), [(0.043, True), (0.06, False)])
def test_where_many_pixels_lie_above_it_nothing_has_clipped(share: float, found: bool) -> None:
    values = cut(noisy(ramp(18000.0), SHAPE))
    clipped = np.flatnonzero(values > CLIP_DN - 10)
    above = np.random.default_rng(6).choice(clipped, round(share * len(clipped)), replace=False)
    values = values.copy()
    # each at a level of its own: they make no pile-up themselves
    values.flat[above] = np.linspace(15300.0, 16300.0, len(above))
    heap = heap_in(values)
    assert (heap is not None and abs(heap.level_dn - CLIP_DN) < 5) == found


def test_specular_points_that_clip_are_a_heap() -> None:
    values = sky(1500.0)
    spots = np.random.default_rng(1).integers(0, values.size, 200)
    values.flat[spots] = cut(np.full(200, 20000.0))
    heap = heap_in(values)
    assert heap is not None
    assert heap.share == pytest.approx(len(set(spots.tolist())) / values.size, rel=0.02)


def test_a_dozen_specular_points_are_too_few_to_tell() -> None:
    values = sky(1500.0)
    values.flat[:12] = CLIP_DN
    assert heap_in(values) is None


def test_specular_points_that_do_not_clip_are_none() -> None:
    values = sky(1500.0)
    values.flat[:300] = np.random.default_rng(2).uniform(3000, 14000, 300)
    assert heap_in(values) is None


@pytest.mark.parametrize("noise", [KNOWN_NOISE, UNKNOWN], ids=["noise known", "noise unknown"])
@pytest.mark.parametrize("signal_dn", [2000.0, 9000.0, 14000.0, 14300.0])
def test_a_bright_even_sky_is_no_heap(signal_dn: float, noise: NoiseModel) -> None:
    for seed in range(5):
        assert heap_in(sky(signal_dn, seed), noise) is None


@pytest.mark.parametrize("noise", [KNOWN_NOISE, UNKNOWN], ids=["noise known", "noise unknown"])
def test_the_edge_of_a_bounded_scene_is_no_heap(noise: NoiseModel) -> None:
    blocks = np.repeat(np.array([500.0, 4000.0, 9000.0, 13000.0]), SHAPE[1] // 4)
    assert heap_in(noisy(blocks, SHAPE), noise) is None
    assert heap_in(noisy(ramp(13500.0), SHAPE), noise) is None


def test_the_brightest_object_is_no_heap() -> None:
    values = sky(1500.0)
    values[40:60, 40:60] = noisy(11000.0, (20, 20), seed=5)
    assert heap_in(values) is None


@pytest.mark.parametrize("seed", [0, 2, 6, 7])
def test_a_sky_calmer_than_its_measured_noise_is_no_heap(seed: int) -> None:
    """The rule takes the noise at six tenths; here it was measured half too high."""
    tones = np.concatenate([np.linspace(8434.2, 8490.2, 1400), np.full(140, 8540.2)])
    calm = noisy(tones, (1400, 1540), gain=0.3 * 0.65**2, read=2.0 * 0.65, seed=seed)
    assert heap_in(calm) is None


def test_darkness_is_no_heap() -> None:
    assert heap_in(sky(0.0)) is None
    assert heap_in(np.maximum(sky(0.0) - 511, 0)) is None


@pytest.mark.parametrize("level", [3000, 8000, 12000])
def test_a_frame_of_constant_grey_is_no_heap(level: int) -> None:
    assert only_plane(mosaic_of(np.full((90, 120), level))).pile_up is None


def test_a_frame_of_nothing_but_the_claimed_white_is_blown() -> None:
    heap = only_plane(mosaic_of(np.full((90, 120), 16383))).pile_up
    assert heap is not None
    assert (heap.from_dn, heap.share) == (16383, 1.0)


def test_a_frame_blown_all_over_is_a_heap_with_its_spread() -> None:
    heap = only_plane(mosaic_of(np.rint(cut(sky(30000.0))))).pile_up
    assert heap is not None
    assert heap.share == 1.0
    assert heap.level_dn == pytest.approx(CLIP_DN, abs=0.2)


def test_random_numbers_without_any_noise_law_are_no_heap() -> None:
    rng = np.random.default_rng(3)
    assert only_plane(mosaic_of(rng.integers(600, 4000, (200, 300)))).pile_up is None
    assert only_plane(mosaic_of(rng.integers(0, 16384, (200, 300)))).pile_up is None


def test_a_heap_far_below_what_another_channel_records_is_dropped() -> None:
    values = np.rint(noisy(ramp(14000.0), SHAPE))
    values[0::2, 0::2] = np.minimum(values[0::2, 0::2], 6000.0)
    claims = (6000.0, 16383.0, 16383.0, 16383.0)
    assert heap_in(values[0::2, 0::2], UNKNOWN, claims[0]) is not None
    planes = measured(mosaic_of(values, RGGB, white_dn=claims)).planes
    assert [plane.pile_up for plane in planes] == [None] * 4


@pytest.mark.parametrize("scene", ["wall 0.2", "wall 0.9", "wall 0.97"])
@pytest.mark.parametrize("iso", [100.0, 400.0])
def test_walls_of_the_simulated_camera(scene: str, iso: float) -> None:
    taken = exposed("RGGB", iso, 600, 400, scene)
    for plane, truth in zip(measured(taken.mosaic).planes, taken.truth.planes, strict=True):
        assert plane.pile_up is None or truth.blown_pixels > 16
        assert plane.clip_threshold_dn == (
            plane.white_dn if plane.pile_up is None else plane.pile_up.from_dn
        )


@pytest.mark.parametrize("iso", [100.0, 125.0, 160.0, 1600.0])
def test_isos_of_the_simulated_camera(iso: float) -> None:
    taken = exposed("GBRG", iso, 600, 400)
    found = 0
    for plane, truth in zip(measured(taken.mosaic).planes, taken.truth.planes, strict=True):
        if plane.pile_up is not None:
            assert plane.pile_up.level_dn == pytest.approx(truth.saturation_dn, rel=2e-3)
            found += 1
    assert found >= 3


def test_a_frame_that_clips_at_half_of_what_the_file_claims() -> None:
    taken = exposed("RGGB", 100.0, 600, 400, saturation_dn=8000.0)
    for plane, truth in zip(measured(taken.mosaic).planes, taken.truth.planes, strict=True):
        assert plane.pile_up is not None
        assert plane.pile_up.level_dn == pytest.approx(truth.saturation_dn, rel=2e-3)


def test_the_linearity_limit_is_kept_apart() -> None:
    plane = only_plane(mosaic_of(np.full((90, 120), 900), linear_limit_dn=(15360.0,)))
    assert plane.linear_limit_dn == 15360.0
    assert plane.clip_threshold_dn == plane.white_dn == 16383.0


@pytest.mark.parametrize(("lower", "edge"), [(1400, 15872), (1000, 15904)])
def test_a_level_between_two_codes_falls_on_both(lower: int, edge: int) -> None:
    """Codes lie 32 DN apart, each of a smooth sky holds 400 pixels."""
    counts = np.zeros(15904 - 8000 + 1, np.uint32)
    counts[::32] = 400
    counts[[-33, -1]] = lower, 3000
    fine = NoiseModel(NoiseEstimate(2.0, 0.01))
    heap = heap_at(top_of(Histogram(8000, counts), BLACK_DN, fine), 15904)
    assert heap is not None
    assert edge - 32 < heap.from_dn <= edge
    if edge == 15872:
        assert heap.level_dn == pytest.approx(
            (15872 * lower + 15904 * 3000) / (lower + 3000), abs=1
        )


def test_few_pixels_under_a_pile_up_of_single_codes_are_no_steps() -> None:
    """Single pixels lie 4 DN apart under the one that spreads over a dozen codes."""
    counts = np.zeros(15870 - 8000, np.uint32)
    counts[: 15700 - 8000] = 2
    counts[15700 - 8000 : 15820 - 8000 : 4] = 1
    counts[-16:] = [1, 0, 0, 0, 0, 1, 5, 10, 16, 19, 16, 17, 9, 1, 2, 2]
    fine = NoiseModel(NoiseEstimate(1.1, 0.3))
    heap = heap_at(top_of(Histogram(8000, counts), BLACK_DN, fine), 15863)
    assert heap is not None
    assert heap.level_dn == pytest.approx(15863, abs=1)
    assert heap.from_dn <= 15859


@pytest.mark.parametrize("share", [0.5, 1.0])
def test_blown_shares_hold_in_steps_as_wide_as_the_noise(share: float) -> None:
    """Within what one code holds of a sky, which cannot be parted from what is clipped."""
    taken = exposed("RGGB")
    packed = measured(remade(taken, packed_in_steps(share)))
    for plane, truth in zip(packed.planes, taken.truth.planes, strict=True):
        if truth.blown_pixels >= 0.005 * truth.pixels:
            assert plane.pile_up is not None
            assert plane.pile_up.level_dn == pytest.approx(truth.saturation_dn, rel=4e-3)
            found = plane.histogram.at_or_above(plane.pile_up.from_dn) / plane.pixels
            assert found == pytest.approx(truth.blown_pixels / truth.pixels, abs=1e-3)
