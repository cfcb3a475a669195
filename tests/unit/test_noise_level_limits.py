"""On either side of the numbers by which places of one level are taken together and trusted."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from auditor.black.border import BorderLevel
from auditor.figures.frame import _verdict
from auditor.model.arrays import F64
from auditor.model.codes import Loss, Verdict
from auditor.model.measurement import NoiseEstimate
from auditor.model.remark import RemarkCode, remark
from auditor.model.settings import JudgeSettings
from auditor.noise.blocks import Blocks
from auditor.noise.estimate import _DarkSteps, _if_white, _read_noise, _Tones
from auditor.noise.level_bins import MEAN_WITHIN, LevelBins, rank_blocks
from auditor.noise.neighbours import _of_bands
from auditor.noise.photon_transfer import (
    LevelGroups,
    TransferFit,
    calm_places,
    dark_whiteness,
    fit_groups,
)
from auditor.noise.settle import _of_other_iso
from auditor.noise.straight import _freed, even_levels_off
from sample_generation.camera import SimulatedCamera
from tests.built_mosaics import SATURATION_E, measured, mosaic_of, noisy
from tests.unit.test_noise_settle import OWN, settled

FIT = TransferFit(
    read_dn2=9.0, gain_dn_per_e=2.0, uneven=0.0, read_error_dn2=0.1, gain_error=0.001,
    uneven_error=1e-6, groups=40, span_dn=4000.0, kept_share=0.9, ruled=6,
)  # fmt: skip


def bins(
    groups: int, each: int, unrest: F64, *, white: F64 | float = 1.0, coarse: F64 | float = 1.0
) -> LevelBins:
    """Groups of places, calmest first, with unrest and fine noise as shares of that of light."""
    group = np.repeat(np.arange(groups), each)
    signal, none = (100.0 + 100.0 * group).astype(np.float64), np.zeros(len(group))
    model = FIT.variance_dn2(signal)
    rank = np.tile(np.arange(each) / each, groups)
    return LevelBins(
        signal, model * white, model * np.tile(unrest, groups), model * coarse * MEAN_WITHIN,
        none, none, group, rank, np.full(groups, each), 16.0,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("calm", "other", "used"),
    [
        (7, 9.0, 0), (9, 9.0, 9),
        (40, 1.2, 40), (50, 1.2, 100),
        (50, 1.4, 50),
    ],
)  # fmt: skip
def test_places_are_used_that_are_as_calm_as_noise(calm: int, other: float, used: int) -> None:
    """Of a hundred so many are; a few are chance, half of them tell that there is no texture."""
    unrest = np.where(np.arange(100) < calm, 0.5, other)
    assert int(calm_places(bins(1, 100, unrest), FIT).sum()) == used


@pytest.mark.parametrize(("each", "told"), [(180, True), (155, False)])
def test_in_texture_the_calmest_tenth_is_asked_how_white_it_is(each: int, *, told: bool) -> None:
    """It takes a hundred dark places to tell: a tenth of six groups are 108, or 93.

    Nothing is as calm as noise, the calmest tenth was smoothed, and what comes next is not.
    """
    smoothed = np.tile(np.where(np.arange(each) < each / 10.0, 0.4, 2.0), 6)
    found = dark_whiteness(bins(6, each, np.full(each, 9.0), white=smoothed), FIT)
    assert (found < 0.7) == told


def blocks(count: int, cut: int = 0) -> Blocks:
    """Places of rising level; so many of the darkest ones touch what may be clipped."""
    level = np.linspace(100.0, 4000.0, count).astype(np.float32)
    top = np.where(np.arange(count) < cut, 16000.0, level).astype(np.float32)
    noise, none = np.full(count, 30.0, np.float32), np.zeros(count, np.float32)
    return Blocks(level, noise, noise, noise, level, top, none, none, 16.0)


@pytest.mark.parametrize(("each", "cut", "groups"), [(60, 1, 48), (80, 2, 47)])
def test_a_level_of_which_fiftieths_are_cut_off_is_left_out(
    each: int, cut: int, groups: int
) -> None:
    """One place of 60, or two of 80: a speck of dust, or noise that chose them."""
    found = rank_blocks(blocks(48 * each, cut), 15000.0)
    assert found is not None
    assert len(found.sizes) == groups


def test_a_level_is_told_by_two_dozen_places() -> None:
    """Sixty make two levels: one would waste half of what they tell, three would be too few."""
    found = rank_blocks(blocks(60), 15000.0)
    assert found is not None
    assert found.sizes.tolist() == [30, 30]


@pytest.mark.parametrize(("white", "told"), [(0.85, False), (0.95, True)])
def test_fine_noise_as_large_as_the_coarser_is_a_sensor_s(white: float, *, told: bool) -> None:
    places = bins(12, 60, np.full(60, 0.5), white=white)
    (kept,) = _if_white([_Tones(places)], [FIT])
    assert (kept.level_bins is not None) == told


@pytest.mark.parametrize(("turns", "apart"), [(0.04, False), (0.06, True)])
def test_rows_that_take_turns_by_a_tenth_were_amplified_otherwise(
    turns: float, *, apart: bool
) -> None:
    light = np.linspace(500.0, 4000.0, 400)[:, None] * np.ones((400, 480))
    light *= np.where(np.arange(400) % 2, 1.0 + turns, 1.0 - turns)[:, None]
    (plane,) = measured(mosaic_of(np.rint(noisy(light, (400, 480))))).planes
    assert (remark(RemarkCode.LINES_TAKE_TURNS) in plane.noise.remarks) == apart


@pytest.mark.parametrize(("error", "told"), [(0.06, True), (0.08, False)])
def test_a_read_noise_is_told_when_it_is_sure_to_seven_percent(error: float, *, told: bool) -> None:
    """Of a variance twice that."""
    fit = replace(FIT, read_error_dn2=2.0 * error * FIT.read_dn2)
    assert (_read_noise(fit, None, _DarkSteps()).dn is not None) == told


@pytest.mark.parametrize(("variance_dn2", "bound"), [(0.2, True), (0.28, False)])
def test_a_variance_that_is_rounding_s_is_told_as_a_bound(
    variance_dn2: float, *, bound: bool
) -> None:
    """EMVA 1288 (release 4, 6.6): under 0.24 DN² the figure of 0.49 DN is an upper bound."""
    read = _read_noise(None, BorderLevel(0.0, 0.01, variance_dn2, 10**6, 1.0), _DarkSteps())
    assert bool(read.said) == bound
    assert read.dn == pytest.approx(0.49 if bound else variance_dn2**0.5, abs=0.001)


@pytest.mark.parametrize(("under_dn", "told"), [(40.0, True), (52.0, False)])
def test_light_is_no_less_than_none(under_dn: float, *, told: bool) -> None:
    """At 0.02 DN an electron, 45 DN under black are a tenth of the read variance of 9 DN²."""
    signal = np.concatenate([[-under_dn], np.geomspace(1.0, 9000.0, 40)])
    groups = LevelGroups(signal, 9.0 + 0.02 * signal, np.full(41, 2000.0))
    fit = fit_groups(groups, None, (0.0, 1e-6))
    assert fit is not None
    assert bool(fit.ruled) == told


@pytest.mark.parametrize(("darkest_dn", "lent"), [(2.4, False), (2.7, True)])
def test_a_frame_calmer_than_its_sisters_was_smoothed(darkest_dn: float, *, lent: bool) -> None:
    """They have 3 DN: noise reduction left 80 % of it, chance 90 %."""
    silent: dict[str, Any] = {"a": NoiseEstimate(darkest_dn=darkest_dn), "b": OWN}
    found = settled(silent)["a"]
    assert (found.read_noise_dn is not None) == lent
    assert (remark(RemarkCode.CALMER_THAN_SISTERS) in found.remarks) != lent


@pytest.mark.parametrize(
    ("blocked", "at_black", "dark"),
    [
        (0.992, 0.9, False), (0.997, 0.1, True),
        (None, 0.35, False), (None, 0.5, True),
    ],
)  # fmt: skip
def test_a_frame_with_nothing_over_the_floor_is_dark(
    blocked: float | None, at_black: float, *, dark: bool
) -> None:
    """A night with a lamp has more than a two-hundredth over it; read noise lies half at black."""
    channels: Any = [SimpleNamespace(zero_fraction=at_black)]
    maps: Any = SimpleNamespace(blocked_fraction=blocked)
    verdict = _verdict(channels, Loss.NONE, maps, JudgeSettings())
    assert (verdict is Verdict.DARK_FRAME) == dark


@pytest.mark.parametrize(("share", "asked"), [(0.08, False), (0.12, True)])
def test_long_tails_are_asked_for_from_a_tenth_of_the_levels_on(
    share: float, *, asked: bool
) -> None:
    """At both, light makes nearly all of the noise."""
    noise = 5.0 * np.random.default_rng(3).standard_normal((1, 8, 80))
    pixels = np.rint(512.0 + share * FIT.span_dn + noise).astype(np.uint16)
    _, calm, lit = _of_bands(pixels, 512.0, FIT)
    assert calm.all()
    assert lit.all() == lit.any() == asked


@pytest.mark.parametrize(("share", "alone"), [(0.2, False), (0.26, True)])
def test_levels_from_a_quarter_of_the_brightest_on_are_bright_alone(
    share: float, *, alone: bool
) -> None:
    """Of a sky up to saturation; what may be clipped is not used, which leaves 0.23 and 0.29."""
    sky = SATURATION_E * 61.0 * np.linspace(share, 1.0, 480)[:, None, None] * np.ones((1, 720, 3))
    frame = SimulatedCamera(width=720, height=480).expose(sky.astype(np.float32), 1.0, rng=3)
    for plane in measured(frame.mosaic).planes:
        assert plane.noise.gain_dn_per_e is not None
        assert (remark(RemarkCode.BRIGHT_ALONE) in plane.noise.remarks) == alone


@pytest.mark.parametrize(("groups", "kept"), [(5, True), (7, False)])
def test_six_levels_tell_that_noise_was_smoothed(groups: int, *, kept: bool) -> None:
    places = bins(groups, 60, np.full(60, 0.5), white=0.5)
    (left,) = _if_white([_Tones(places)], [FIT])
    assert (left.level_bins is not None) == kept


@pytest.mark.parametrize(("each", "seen"), [(50, False), (70, True)])
def test_sixty_places_tell_that_a_level_is_even(each: int, *, seen: bool) -> None:
    found = even_levels_off(bins(6, each, np.full(each, 1.2), white=1.2), FIT)
    assert found == (pytest.approx(0.2) if seen else None)


@pytest.mark.parametrize(("errors", "left_out"), [(3.2, False), (4.6, True), (-5.8, True)])
def test_a_level_off_all_others_tells_nothing_of_a_bend(errors: float, *, left_out: bool) -> None:
    """By so many standard errors, of which a tenth goes into the fit itself."""
    signal = np.linspace(100.0, 4000.0, 40)
    noise, freedom = FIT.variance_dn2(signal), np.full(40, 2000.0)
    noise[32] *= 1.0 + errors * (2.0 / 2000.0 + 0.01**2) ** 0.5
    told = _freed(LevelGroups(signal, noise, freedom), FIT, None, (0.0, 1e-9), term=3)
    assert (abs(told.errors) < 0.01) == left_out


@pytest.mark.parametrize(("others", "kept"), [(2, True), (3, False)])
def test_three_frames_are_believed_before_a_frame_s_own_gain(others: int, *, kept: bool) -> None:
    """They agree, at twice the ISO, on 4 DN an electron: at its own that is 2, not 2.9."""
    own = {"own": replace(OWN, gain_dn_per_e=2.9)}
    more = {str(n): replace(OWN, gain_dn_per_e=4.0) for n in range(others)}
    found = settled(own | more, dict.fromkeys(more, 200.0))["own"]
    assert (found.gain_dn_per_e == 2.9) == kept


@pytest.mark.parametrize(("stops", "of_iso"), [(2.3, True), (2.7, False)])
def test_a_gain_further_off_than_two_stops_and_a_half_is_of_no_iso(
    stops: float, *, of_iso: bool
) -> None:
    assert _of_other_iso(stops) == of_iso == _of_other_iso(-stops)
