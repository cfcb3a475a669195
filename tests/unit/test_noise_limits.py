"""On either side of the numbers that noise is judged by, where no other test stands."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter

from auditor.model.arrays import F64
from auditor.model.measurement import Histogram, NoiseEstimate
from auditor.model.mosaic import BlackLevels
from auditor.model.remark import RemarkCode, remark
from auditor.noise import estimate
from auditor.noise.blocks import Blocks
from auditor.noise.estimate import _agreeing, _sides_agree, _Tones
from auditor.noise.level_bins import LevelBins, without_code_noise
from auditor.noise.photon_transfer import LevelGroups, TransferFit, fit_groups
from tests.built_mosaics import exposed, measured, mosaic_of, noisy


def ramp(rows: int, cols: int, top_dn: float = 9000.0) -> F64:
    return np.broadcast_to(np.linspace(0.0, top_dn, rows)[:, None], (rows, cols))


def uneven(light: F64) -> F64:
    """Light as pixels respond to it, unlike by 0.4 %."""
    response: F64 = 1.0 + 0.004 * np.random.default_rng(7).standard_normal(light.shape)
    return light * response


@pytest.mark.parametrize(("side", "told"), [(120, False), (160, True)])
def test_a_gain_is_told_when_it_is_sure_to_a_twentieth(side: int, *, told: bool) -> None:
    """Of 120 x 120 pixels it is to 6 %, of 160 x 160 to 4 %."""
    (plane,) = measured(mosaic_of(np.rint(noisy(uneven(ramp(side, side)), (side, side))))).planes
    assert (plane.noise.gain_dn_per_e is not None) == told


@pytest.mark.parametrize(("share", "told"), [(7.5, False), (9.5, True)])
def test_few_levels_of_interpolated_data_tell_no_gain(share: float, *, told: bool) -> None:
    """Of 48 levels of a picture all but 5, or 7, are clipped."""
    shape = (480, 600)
    light = ramp(*shape, 16000.0 * 48.0 / share)
    samples = np.stack([noisy(uneven(light), shape, seed=seed) for seed in range(3)], axis=-1)
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


@pytest.mark.parametrize(("share", "kept"), [(0.07, True), (0.13, False)])
def test_codes_that_grow_as_fast_as_the_noise_leave_no_level_that_tells(
    share: float, *, kept: bool
) -> None:
    """Over 1,000 DN codes lie 8 DN apart, and rule in all places: so many of the picture's."""
    count = 400
    level = np.where(np.arange(count) < round(share * count), 1400.0, 200.0).astype(np.float32)
    noise, none = np.full(count, 4.0, np.float32), np.zeros(count, np.float32)
    blocks = Blocks(level, noise, noise, noise, none, none, none, none, 16.0)
    dn = np.arange(2400)
    codes = Histogram(0, np.where((dn < 1200) | (dn % 8 == 0), 1000, 0).astype(np.uint32))
    assert (without_code_noise(blocks, codes, 512.0) is not None) == kept


SURE = TransferFit(
    read_dn2=4.0, gain_dn_per_e=0.3, uneven=0.0, read_error_dn2=0.1, gain_error=0.001,
    uneven_error=1e-6, groups=40, span_dn=4000.0, kept_share=0.9,
)  # fmt: skip


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"gain_error": 0.012}, True), ({"gain_error": 0.018}, False),
        ({"span_dn": 18.0}, True), ({"span_dn": 14.0}, False),
        ({"kept_share": 0.3}, True), ({"kept_share": 0.2}, False),
        ({"begins_dn": 60.0}, True), ({"begins_dn": 100.0}, False),
        ({"uneven": 1.6e-4}, True), ({"uneven": 2.4e-4}, False),
    ],
    ids=str,
)  # fmt: skip
def test_a_gain_is_told_by_a_fit_that_bears_it(change: dict[str, Any], *, told: bool) -> None:
    """Sure to a twentieth, over levels far wider than the dark end's noise of 2 DN, by many of
    them, with light that begins at black, and a response that is even."""
    assert _agreeing(["L"], [replace(SURE, **change)]) == ({0} if told else set())


@pytest.mark.parametrize(
    ("times", "told"),
    [
        ((1.0, 1.0, 1.12, 1.0), {0, 1, 2, 3}), ((1.0, 1.0, 1.18, 1.0), {0, 3}),
        ((1.35, 1.0, 1.0, 1.0), {0, 1, 2, 3}), ((1.45, 1.0, 1.0, 1.0), {1, 2, 3}),
    ],
)  # fmt: skip
def test_a_gain_is_borne_out_by_the_other_colours(times: tuple[float, ...], told: set[int]) -> None:
    """Twins of green have one; red may be multiplied by a third, and texture adds more."""
    fits = [replace(SURE, gain_dn_per_e=0.3 * more) for more in times]
    assert _agreeing(["R", "G", "G", "B"], fits) == told


@pytest.mark.parametrize(
    ("apart", "freedom", "agree"),
    [(0.26, 1e6, True), (0.34, 1e6, False), (0.6, 1.9, True), (0.6, 3.4, False)],
)
def test_both_sides_of_a_picture_tell_one_read_noise(
    apart: float, freedom: float, *, agree: bool
) -> None:
    """Variances of 9 DN² without light lie so far apart; of few pixels that is chance."""
    group = np.tile(np.repeat(np.arange(40), 6), 2)
    signal = np.geomspace(0.05, 4000.0, 40)[group]
    across = np.repeat([-1.0, 1.0], len(group) // 2)
    noise = 2.0 * signal + 9.0 * (1.0 + across * apart / 2.0)
    calm = np.full(len(group), 0.05)
    bins = LevelBins(
        signal, noise, calm, noise, across, across, group, calm, np.full(40, 12), freedom
    )  # fmt: skip
    assert _sides_agree(bins, (0.0, 1e-6)) == agree


@pytest.mark.parametrize(("prnu", "bends"), [(0.0025, True), (0.0032, False)])
def test_pixels_are_never_all_alike(
    prnu: float, bends: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where they seem to be, the levels near the top are left out."""
    asked: list[_Tones] = []

    def straight(own: _Tones) -> _Tones:
        asked.append(own)
        return own

    monkeypatch.setattr(estimate, "_straight", straight)
    measured(exposed("RGGB", 100.0, 1200, 800, "glow", prnu=prnu).mosaic)
    assert len(asked) == 4 * bends
