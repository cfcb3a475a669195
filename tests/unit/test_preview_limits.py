"""On either side of every number that a preview is judged by."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from auditor.model.findings import Severity
from auditor.model.measurement import MosaicMeasurement, NoiseEstimate, PreviewMeasurement
from auditor.model.mosaic import CameraPreview
from auditor.model.remark import RemarkCode
from auditor.preview.findings import find_preview_hides
from auditor.preview.measure import (
    measure_preview,
    parting_signal_dn,
    uneven_places,
)
from tests.built_mosaics import measured, mosaic_of, noisy

ROWS, COLS = 400, 600
WHITE_DN = 5000.0
BARS, OTHER_SECTION = RemarkCode.BARS_LEFT_OUT, RemarkCode.OTHER_SECTION


def ramp() -> NDArray[np.float64]:
    """Light that rises over the rows to twice what the preview shows as white."""
    return np.broadcast_to(np.linspace(0.02, 2.0, ROWS)[:, None], (ROWS, COLS))


def raw(light: NDArray[np.float64], noise_dn: float = 0.0) -> MosaicMeasurement:
    pixels = noisy(WHITE_DN * light, light.shape)
    pixels = pixels + noise_dn * np.random.default_rng(3).standard_normal(light.shape)
    return measured(mosaic_of(np.rint(pixels).clip(0, 16383)))


def codes_of(light: NDArray[np.float64]) -> NDArray[np.uint8]:
    half = light.reshape(ROWS // 2, 2, COLS // 2, 2).mean(axis=(1, 3))
    codes = np.rint(255.0 * half.clip(0.0, 1.0)).astype(np.uint8)
    return np.stack([codes] * 3, axis=-1)


def told(codes: NDArray[np.uint8], taken: MosaicMeasurement) -> PreviewMeasurement:
    return measure_preview(CameraPreview(codes, codes.shape[1], codes.shape[0]), taken)


def remarked(found: PreviewMeasurement) -> tuple[RemarkCode, ...]:
    return tuple(one.code for one in found.remarks)


@pytest.mark.parametrize(("code", "noted"), [(10, (BARS,)), (14, (OTHER_SECTION,))])
def test_bars_are_nearly_black(code: int, noted: tuple[RemarkCode, ...]) -> None:
    codes = codes_of(ramp())
    bar = np.full((20, codes.shape[1], 3), code, np.uint8)
    assert remarked(told(np.concatenate([bar, codes, bar]), raw(ramp()))) == noted


@pytest.mark.parametrize(("share", "noted"), [(0.008, ()), (0.012, (BARS,))])
def test_bars_are_looked_for_in_another_shape(share: float, noted: tuple[RemarkCode, ...]) -> None:
    codes = np.repeat(np.repeat(codes_of(ramp()), 5, axis=0), 5, axis=1)
    bar = np.zeros((round(share * codes.shape[0] / 2), codes.shape[1], 3), np.uint8)
    assert remarked(told(np.concatenate([bar, codes, bar]), raw(ramp()))) == noted


@pytest.mark.parametrize(("share", "noted"), [(0.035, ()), (0.045, (OTHER_SECTION,))])
def test_a_shape_far_off_is_another_section(share: float, noted: tuple[RemarkCode, ...]) -> None:
    codes = codes_of(ramp())
    assert remarked(told(codes[: round(codes.shape[0] / (1 + share))], raw(ramp()))) == noted


@pytest.mark.parametrize(("like", "same"), [(0.42, False), (0.58, True)])
def test_a_preview_is_as_like_the_raw_data_as_half(like: float, same: bool) -> None:
    light = 0.02 + np.random.default_rng(8).random((ROWS // 8, COLS // 8))
    other = 0.02 + np.random.default_rng(9).random((ROWS // 8, COLS // 8))
    level, noise = (
        (part - part.mean()) / part.std() for part in (np.log1p(WHITE_DN * light), other)
    )
    shown = 0.5 + 0.1 * (like * level + np.sqrt(1 - like**2) * noise)
    large = np.ones((8, 8))
    found = told(
        codes_of(np.kron(shown, large)), raw(np.asarray(np.kron(light, large), np.float64))
    )
    assert (found.remarks == ()) == same


def clip_dn(light: NDArray[np.float64], shown: NDArray[np.float64], **more: Any) -> float | None:
    return told(codes_of(shown), raw(light, **more)).clip_signal_dn.get("G")


@pytest.mark.parametrize(("brightest", "asked"), [(1.15, True), (1.38, False)])
def test_an_uneven_place_is_not_asked(brightest: float, asked: bool) -> None:
    """Single pixels stand over their places; the noise of 0.5 % adds little."""
    light = ramp().copy()
    light[::4, ::4] *= brightest
    assert (clip_dn(light, ramp()) is not None) == asked


@pytest.mark.parametrize(("pixels", "signal_dn"), [(14, WHITE_DN), (24, 0.9 * WHITE_DN)])
def test_a_place_is_white_or_not_when_nearly_all_of_it_is(pixels: int, signal_dn: float) -> None:
    """From 0.8 of white on so many of each 400 pixels are white: 3.5 % tell nothing, 6 % mix.

    Where places are mixed, the threshold is taken midway between what lies about them.
    """
    codes = np.kron(codes_of(ramp()), np.ones((5, 5, 1), np.uint8))
    down, across = np.indices(codes.shape[:2]) % 20
    marks = (20 * down + across < pixels) & (codes[..., 0] > 0.8 * 255)
    codes[marks] = 255
    found = told(codes, raw(ramp())).clip_signal_dn["G"]
    assert found == pytest.approx(signal_dn, rel=0.03)


@pytest.mark.parametrize(("sigmas", "uneven"), [(3.4, False), (4.6, True)])
def test_noise_makes_no_place_uneven(sigmas: float, uneven: bool) -> None:
    noise = NoiseEstimate(read_noise_dn=10.0, gain_dn_per_e=0.0)
    maps = SimpleNamespace(
        mean_dn=np.full((1, 1, 1), 80.0, np.float32),
        max_dn=np.full((1, 1, 1), 100.0 + 10.0 * sigmas, np.float32),
        shape=(1, 1),
    )
    planes = [SimpleNamespace(name="G", noise=noise, black_dn=0.0)]
    measurement: Any = SimpleNamespace(maps=maps, planes=planes)
    assert bool(uneven_places(measurement, ("G",)).any()) == uneven


def parted(low: int, high: int, *, gap: float = 1.02, wrong: int = 0) -> float | None:
    """Places under and over a threshold at 1000, with a gap there; some on the wrong side."""
    below = 1000.0 / np.sqrt(gap) * 0.99 ** np.arange(low)
    above = 1000.0 * np.sqrt(gap) * 1.01 ** np.arange(high)
    share = np.concatenate([np.zeros(low), np.ones(high)])
    if wrong:
        share[low + high - wrong :] = 0.0
    return parting_signal_dn(np.concatenate([below, above]), share)


@pytest.mark.parametrize(("places", "tells"), [(5, False), (7, True)])
def test_so_many_places_on_either_side_tell_a_threshold(places: int, tells: bool) -> None:
    assert (parted(places, 30) is not None) == tells
    assert (parted(30, places) is not None) == tells


@pytest.mark.parametrize(("gap", "tells"), [(1.2, True), (1.5, False)])
def test_places_lie_near_the_threshold(gap: float, tells: bool) -> None:
    assert (parted(30, 30, gap=gap) is not None) == tells


@pytest.mark.parametrize(("wrong", "tells"), [(6, True), (8, False)])
def test_few_places_lie_on_the_wrong_side(wrong: int, tells: bool) -> None:
    # of 30 that are bright so many are not shown as white: a share of 24 or of 22 that are
    assert (parted(30, 30, wrong=wrong) is not None) == tells


@pytest.mark.parametrize(("share", "tells"), [(8e-4, 0), (1.2e-3, 1)])
def test_less_than_a_thousandth_that_is_hidden_is_glitter(share: float, tells: int) -> None:
    preview = SimpleNamespace(blown_fraction=0.0)
    result = SimpleNamespace(
        blown_fraction=share, preview=preview, status="measured", verdict="held"
    )
    view: Any = SimpleNamespace(result=result)
    assert [one.severity for one in find_preview_hides(view)] == [Severity.RISK] * tells
