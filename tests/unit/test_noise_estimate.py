"""Read noise and gain from one frame, and when they cannot be had."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from auditor.model.codes import Layout
from auditor.model.measurement import NoiseEstimate
from auditor.model.mosaic import Mosaic
from auditor.noise.blocks import plan_quads
from auditor.noise.level_bins import LevelBins
from auditor.noise.photon_transfer import fit_transfer
from auditor.sensor.code_gaps import code_steps_dn
from auditor.sensor.lattice import SensorLattice
from sample_generation.layouts import LAYOUT_NAMES, colour_layout
from tests.built_mosaics import (
    BLACK_DN,
    border_of,
    exposed,
    histogram_of,
    measured,
    measured_coast,
    mosaic_of,
    noisy,
    only_plane,
)
from tests.told import said

SHAPE = (640, 800)
GAIN, READ = 0.3, 2.0
WITH_ROUNDING = (READ**2 + 1 / 12) ** 0.5


def ramp() -> NDArray[np.float64]:
    return np.broadcast_to(12000.0 * np.linspace(0, 1, SHAPE[0])[:, None] ** 3, SHAPE)


def picture(values: NDArray[np.float64] | None = None, **changes: Any) -> Mosaic:
    pixels = noisy(ramp(), SHAPE, gain=GAIN, read=READ) if values is None else values
    return mosaic_of(np.rint(pixels).clip(0, 16383), **changes)


def noise(mosaic: Mosaic) -> NoiseEstimate:
    return only_plane(mosaic).noise


def test_border_and_picture_together() -> None:
    found = noise(picture(masked=(border_of((40, 800)),)))
    assert found.source == "masked border and photon transfer"
    assert found.read_noise_dn == pytest.approx(WITH_ROUNDING, rel=0.02)
    assert found.gain_dn_per_e == pytest.approx(GAIN, rel=0.02)
    assert found.remarks == ()


def test_without_a_border_the_dark_end_tells_the_read_noise() -> None:
    found = noise(picture())
    assert found.source == "photon transfer"
    assert found.read_noise_dn == pytest.approx(WITH_ROUNDING, rel=0.05)
    assert found.gain_dn_per_e == pytest.approx(GAIN, rel=0.03)


def test_noise_of_whole_rows_is_no_noise_of_pixels() -> None:
    rows = np.random.default_rng(4).normal(0, 3.0, (SHAPE[0], 1))
    border = border_of((40, 800))
    striped = replace(border, pixels=(border.pixels + np.rint(rows[:40]) + 9).astype(np.uint16))
    found = noise(picture(noisy(ramp(), SHAPE) + rows, masked=(striped,)))
    assert found.read_noise_dn == pytest.approx(WITH_ROUNDING, rel=0.05)
    assert found.gain_dn_per_e == pytest.approx(GAIN, rel=0.03)


def test_uneven_response_is_told_from_shot_noise() -> None:
    response = 1.0 + 0.008 * np.random.default_rng(6).standard_normal(SHAPE)
    found = noise(picture(noisy(ramp() * response, SHAPE), masked=(border_of((40, 800)),)))
    assert found.gain_dn_per_e == pytest.approx(GAIN, rel=0.03)


@pytest.mark.parametrize("contrast", [0.02, 0.05, 0.25])
def test_texture_on_two_thirds_of_the_picture_is_kept_out(contrast: float) -> None:
    rng = np.random.default_rng(7)
    leaves = np.exp(contrast * rng.standard_normal((SHAPE[0] // 2, SHAPE[1] // 2)))
    grain = np.repeat(np.repeat(leaves, 2, axis=0), 2, axis=1)
    grain[:, : SHAPE[1] // 3] = 1.0
    found = noise(picture(noisy(ramp() * grain, SHAPE), masked=(border_of((40, 800)),)))
    assert found.gain_dn_per_e == pytest.approx(GAIN, rel=0.05)


def test_fine_texture_all_over_is_no_uneven_response_and_tells_no_gain() -> None:
    grain = 1.0 + 0.1 * np.random.default_rng(6).standard_normal(SHAPE)
    found = noise(picture(noisy(ramp() * grain, SHAPE), masked=(border_of((40, 800)),)))
    assert found.gain_dn_per_e is None
    assert "gain" in said(found.remarks)


@pytest.mark.parametrize("iso", [100.0, 800.0, 3200.0])
def test_gain_follows_the_iso_of_the_simulated_camera(iso: float) -> None:
    truth = exposed("RGGB", iso).truth
    for plane, true in zip(measured_coast("RGGB", iso).planes, truth.planes, strict=True):
        assert plane.noise.gain_dn_per_e == pytest.approx(true.gain_dn_per_e, rel=0.04)
        assert plane.noise.read_noise_dn == pytest.approx(true.read_noise_dn, rel=0.05)


def test_one_tone_alone_tells_no_gain() -> None:
    found = noise(picture(noisy(6000.0, SHAPE)))
    assert found.gain_dn_per_e is None
    assert found.floor_dn is None
    assert found.remarks


def test_a_dark_frame_tells_the_read_noise_and_no_gain() -> None:
    found = noise(picture(noisy(0.0, SHAPE), masked=(border_of((40, 800)),)))
    assert found.read_noise_dn == pytest.approx(WITH_ROUNDING, rel=0.03)
    assert found.gain_dn_per_e is None
    assert found.source == "masked border"
    assert "gain" in said(found.remarks)


def test_a_blown_frame_says_that_every_tone_is_clipped() -> None:
    found = noise(picture(np.full(SHAPE, 16383.0)))
    assert (found.read_noise_dn, found.gain_dn_per_e) == (None, None)
    assert "clipped" in said(found.remarks)


def test_a_small_picture_says_so() -> None:
    found = noise(mosaic_of(np.rint(noisy(500.0, (6, 9)))))
    assert found.gain_dn_per_e is None
    assert "too small" in said(found.remarks)


def test_noise_finer_than_whole_dn_is_an_upper_bound() -> None:
    # EMVA 1288: a variance under 0.24 DN² is that of rounding; 0.49 DN is then stated.
    fine = noisy(ramp(), SHAPE, gain=0.02, read=0.1)
    found = noise(picture(fine, masked=(border_of((40, 800), black=512.2, read=0.1),)))
    assert found.read_noise_dn == pytest.approx(0.49, abs=0.02)
    assert "upper bound" in said(found.remarks)


def test_smoothed_pixels_are_refused() -> None:
    rough = noisy(ramp(), SHAPE)
    moved = (np.roll(rough, (y, x), (0, 1)) for y in range(3) for x in range(3))
    found = noise(picture(sum(moved, np.zeros(SHAPE)) / 9.0))
    assert found.gain_dn_per_e is None
    assert "smoothed" in said(found.remarks)


def test_interpolated_three_sample_data_are_refused() -> None:
    rough = noisy(ramp(), SHAPE)
    beside = (np.roll(rough, 1, 1) + np.roll(rough, -1, 1)) / 2
    half = np.where(np.arange(SHAPE[1]) % 2 == 0, rough, beside)
    below = (np.roll(half, 1, 0) + np.roll(half, -1, 0)) / 2
    full = np.where(np.arange(SHAPE[0])[:, None] % 2 == 0, half, below)
    found = measured(mosaic_of(np.rint(np.stack([full] * 3, axis=-1))))
    assert found.layout is Layout.LINEAR
    assert all(plane.noise.gain_dn_per_e is None for plane in found.planes)


def test_the_noise_profile_fills_in_what_the_frame_does_not_tell() -> None:
    # DNG 1.7: sigma² = S x + O, so S = g / (W - B) and O = (r / (W - B))².
    span = 16383.0 - BLACK_DN
    profile = {"L": (GAIN / span, (READ / span) ** 2)}
    found = noise(picture(noisy(6000.0, SHAPE), noise_profile=profile))
    assert found.source == "noise profile"
    assert found.gain_dn_per_e == pytest.approx(GAIN)
    assert found.read_noise_dn == pytest.approx(READ)


def test_what_was_said_of_a_measured_read_noise_stays_where_the_profile_tells_the_gain() -> None:
    flat = picture(
        noisy(6000.0, SHAPE),
        masked=(border_of((40, 800), black=512.2, read=0.1),),
        noise_profile={"L": (GAIN / (16383.0 - BLACK_DN), 0.0)},
    )
    found = noise(flat)
    assert found.source == "masked border and noise profile"
    assert found.gain_dn_per_e == pytest.approx(GAIN, rel=0.01)
    assert "upper bound" in said(found.remarks)


def test_a_measured_noise_is_preferred_to_the_profile() -> None:
    found = noise(picture(masked=(border_of((40, 800)),), noise_profile={"L": (1.0, 1.0)}))
    assert found.gain_dn_per_e == pytest.approx(GAIN, rel=0.02)


def test_steps_of_a_lossy_curve_are_seen_and_taken_off() -> None:
    steps = np.where(ramp() < 2000, 1.0, 12.0)
    values = np.rint(noisy(ramp(), SHAPE) / steps) * steps
    found = noise(picture(values, masked=(border_of((40, 800)),)))
    seen = code_steps_dn(histogram_of(values))
    assert seen[64:160] == pytest.approx(12.0, rel=0.12)
    assert found.gain_dn_per_e == pytest.approx(GAIN, rel=0.04)


def test_noise_of_root_codes_is_not_taken_for_gain() -> None:
    """Values packed as their square roots: steps grow with the signal as shot noise does."""
    gain, codes = 0.1, 4.0
    root = np.sqrt(np.maximum(noisy(ramp() / 3, SHAPE, gain=gain) - BLACK_DN + 64.0, 0.0))
    packed = (np.rint(root * codes) / codes) ** 2 - 64.0 + BLACK_DN
    found = noise(picture(packed, masked=(border_of((40, 800)),)))
    assert found.gain_dn_per_e == pytest.approx(gain, rel=0.05)


@pytest.mark.parametrize("name", LAYOUT_NAMES)
def test_quads_lie_on_one_plane_and_start_along_a_row(name: str) -> None:
    colours = colour_layout(name)
    lattice = SensorLattice(np.zeros((48, 48), np.uint16), colours.pattern)
    for plane in lattice.planes:
        plan = plan_quads(lattice, plane)
        assert plan is not None
        assert plan.across[0] == 0
        rows, cols = colours.pattern.shape
        for y, x in plan.anchors:
            for dy, dx in ((0, 0), plan.across, plan.down):
                assert colours.pattern[(y + dy) % rows, (x + dx) % cols] == plane


def test_a_plane_without_any_noise_at_black_is_fitted_without_complaint() -> None:
    """Damaged files show that: read noise fitted to nothing, and blocks at black."""
    levels, each = 8, 50
    group = np.repeat(np.arange(levels), each)
    signal = 100.0 * group.astype(np.float64)
    noise = np.maximum(0.0, GAIN * signal - 2.0)
    rank, sizes = np.tile(np.linspace(0, 1, each), levels), np.full(levels, each)
    fit = fit_transfer(
        LevelBins(
            signal, noise, noise / 2, noise, 0 * signal, 0 * signal, group, rank, sizes, 10.0
        ),
        None,
    )
    assert fit is not None
    assert fit.read_dn2 == 0.0
    assert fit.gain_dn_per_e == pytest.approx(GAIN, rel=0.1)
