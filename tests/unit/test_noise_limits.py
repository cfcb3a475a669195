"""On either side of the numbers that noise is judged by, where no other test stands."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter

from auditor.model.arrays import F64
from auditor.model.measurement import Histogram, NoiseEstimate
from auditor.model.mosaic import BlackLevels
from auditor.model.remark import RemarkCode, remark
from auditor.noise.blocks import Blocks
from auditor.noise.level_bins import without_code_noise
from auditor.noise.photon_transfer import LevelGroups, fit_groups
from tests.built_mosaics import measured, mosaic_of, noisy


def ramp(rows: int, cols: int, top_dn: float = 9000.0) -> F64:
    return np.broadcast_to(np.linspace(0.0, top_dn, rows)[:, None], (rows, cols))


@pytest.mark.parametrize(("side", "told"), [(120, False), (160, True)])
def test_a_gain_is_told_when_it_is_sure_to_a_twentieth(side: int, *, told: bool) -> None:
    """Of 120 x 120 pixels it is to 6 %, of 160 x 160 to 4 %."""
    (plane,) = measured(mosaic_of(np.rint(noisy(ramp(side, side), (side, side))))).planes
    assert (plane.noise.gain_dn_per_e is not None) == told


@pytest.mark.parametrize(("share", "told"), [(7.5, False), (9.5, True)])
def test_few_levels_of_interpolated_data_tell_no_gain(share: float, *, told: bool) -> None:
    """Of 48 levels of a picture all but 5, or 7, are clipped."""
    shape = (480, 600)
    light = ramp(*shape, 16000.0 * 48.0 / share)
    samples = np.stack([noisy(light, shape, seed=seed) for seed in range(3)], axis=-1)
    found = measured(mosaic_of(np.rint(np.minimum(samples, 15000.0))))
    assert [plane.noise.gain_dn_per_e is not None for plane in found.planes] == [told] * 3


def test_shadows_that_were_smoothed_tell_no_noise() -> None:
    """Their finest noise is half of that of twice the scale; all else is as it was."""
    shape = (500, 800)
    light = 9000.0 * np.broadcast_to(np.linspace(0.0, 1.0, 500)[:, None] ** 2, shape)
    picture = 8.0 * noisy(light, shape, seed=2)
    picture[:200] = gaussian_filter(picture, 0.5)[:200]
    black = BlackLevels(np.full((1, 1), 8.0 * 512.0))
    mosaic = mosaic_of(np.rint(picture), bit_depth=17, black=black, white_dn=(8.0 * 16383.0,))
    noise = measured(mosaic).planes[0].noise
    assert noise.remarks[0] == remark(RemarkCode.SMOOTHED)
    assert replace(noise, remarks=(), darkest_dn=None) == NoiseEstimate()


def test_grain_in_the_shadows_is_no_smoothing() -> None:
    """It takes a sixth off the finest noise against that of twice the scale."""
    shape = (500, 800)
    light = 9000.0 * np.broadcast_to(np.linspace(0.0, 1.0, 500)[:, None] ** 2, shape)
    grain = gaussian_filter(np.random.default_rng(5).standard_normal(shape), 1.0)
    grain[200:] = 0.0
    textured = light * np.exp(0.3 * grain / grain[:200].std())
    noise = measured(mosaic_of(np.rint(noisy(textured, shape, seed=2)))).planes[0].noise
    assert noise.gain_dn_per_e == pytest.approx(0.3, rel=0.05)
    assert noise.read_noise_dn == pytest.approx(2.0, rel=0.1)


@pytest.mark.parametrize(("share", "tells"), [(0.25, True), (0.35, False)])
def test_read_noise_is_told_where_it_rules(share: float, *, tells: bool) -> None:
    """Shot noise at the darkest level is so much of it: a quarter, or a third."""
    gain, read_dn2 = 2.0, 9.0
    signal = np.geomspace(share * read_dn2 / gain, 4000.0, 40)
    levels = LevelGroups(signal, read_dn2 + gain * signal, np.full(40, 2000.0))
    fit = fit_groups(levels, None, (0.0, 1e-6))
    assert fit is not None
    assert bool(fit.ruled) == tells


@pytest.mark.parametrize(("share", "kept"), [(0.22, True), (0.28, False)])
def test_codes_make_no_more_than_a_quarter_of_the_noise(share: float, *, kept: bool) -> None:
    """Codes lie 8 DN apart, which adds 63/12 DN² to the noise."""
    noise = np.full(30, 63.0 / 12.0 / share, np.float32)
    level, none = np.full(30, 400.0, np.float32), np.zeros(30, np.float32)
    blocks = Blocks(level, noise, noise, noise, none, none, none, none, 16.0)
    codes = Histogram(0, (1000 * (np.arange(2000) % 8 == 0)).astype(np.uint32))
    assert (without_code_noise(blocks, codes, 512.0) is not None) == kept
