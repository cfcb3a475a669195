"""Frames that tell no gain, or no read noise: within 15 % of the truth, or null with a reason."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter

from auditor.black.border import border_levels
from auditor.model.mosaic import BlackLevels
from auditor.model.remark import RemarkCode, remark
from sample_generation.camera import SimulatedCamera
from sample_generation.coding import Coding
from tests.built_mosaics import (
    SATURATION_E,
    border_of,
    exposed,
    measured,
    mosaic_of,
    noises_of,
    noisy,
    true_or_null,
)

NO_BORDER = {"margin_top": 0, "margin_left": 0}
LIGHT = 64.0 * SATURATION_E
"""What saturates the default sensor in a second at f/8, ISO 100."""


@pytest.mark.parametrize("border", [{}, NO_BORDER], ids=["border", "no border"])
@pytest.mark.parametrize("layout", ["RGGB", "XTRANS", "LINEAR", "MONO"])
@pytest.mark.parametrize(
    "coding",
    [Coding(smooth_px=0.4), Coding(smooth_px=0.6), Coding(smooth_px=1.0), Coding(wavelet_dn=40.0)],
    ids=["0.4 px", "0.6 px", "1 px", "wavelets"],
)
def test_pixels_that_were_smoothed_tell_no_gain(
    layout: str, border: dict[str, Any], coding: Coding
) -> None:
    taken = exposed(layout, coding=coding, **border)
    found = measured(taken.mosaic)
    assert [plane.noise.gain_dn_per_e for plane in found.planes] == [None] * len(found.planes)
    sixes = layout == "XTRANS" and coding.wavelet_dn  # its wavelets span places six pixels apart
    told = [remark(RemarkCode.SMOOTHED) in plane.noise.remarks for plane in found.planes]
    assert sixes or all(told)
    true_or_null(taken, noises_of(found))


def test_raw_pixels_are_not_called_smoothed() -> None:
    for layout in ("RGGB", "XTRANS", "LINEAR", "MONO"):
        for plane in measured(exposed(layout).mosaic).planes:
            assert plane.noise.gain_dn_per_e == pytest.approx(0.3, rel=0.05)


def test_a_border_that_was_smoothed_tells_no_read_noise() -> None:
    border = border_of((40, 800))
    # three quarters of the variance are left by the one, three fifths by the other
    little, more = (gaussian_filter(border.pixels * 8.0, width_px) for width_px in (0.45, 0.5))
    picture = noisy(np.broadcast_to(np.linspace(0, 9000, 800), (500, 800)), (500, 800))
    for pixels, white in (
        (border.pixels * 8, True),
        (np.rint(little), False),
        (np.rint(more), False),
    ):
        area = type(border)(pixels.astype(np.uint16), border.top, border.left)
        mosaic = mosaic_of(
            np.rint(picture * 8.0), masked=(area,), bit_depth=17,
            black=BlackLevels(np.full((1, 1), 8.0 * 512.0)),
        )  # fmt: skip
        (level,) = border_levels(mosaic).values()
        (plane,) = measured(mosaic).planes
        assert (level.fine_share >= 0.9) == white
        assert (plane.noise.read_noise_dn is not None) == white
        assert white or remark(RemarkCode.SMOOTHED) in plane.noise.remarks


@pytest.mark.parametrize("border", [{}, NO_BORDER], ids=["border", "no border"])
@pytest.mark.parametrize("time_s", [1 / 100, 30.0, 240.0])
@pytest.mark.parametrize("gain", [0.09, 0.3, 2.0])
def test_dark_frames_tell_no_gain(gain: float, time_s: float, border: dict[str, Any]) -> None:
    body: dict[str, Any] = {
        "width": 900,
        "height": 600,
        "gain_iso100_dn_per_e": gain,
        "dark_current_e_s": 0.05,
    }
    camera = SimulatedCamera(**(body | border))
    taken = camera.expose(np.zeros((600, 900, 3), np.float32), time_s, rng=5, cap_on=True)
    found = measured(taken.mosaic)
    assert [plane.noise.gain_dn_per_e for plane in found.planes] == [None] * 4


@pytest.mark.parametrize("border", [{}, NO_BORDER], ids=["border", "no border"])
@pytest.mark.parametrize("contrast", [0.01, 0.03, 0.1, 0.3])
@pytest.mark.parametrize("grain_px", [0.7, 1.5, 4.0])
def test_textured_scenes_tell_a_true_gain_or_none(
    grain_px: float, contrast: float, border: dict[str, Any]
) -> None:
    """Foliage and rock all over, and one calm corner."""
    rng = np.random.default_rng(3)
    grain = gaussian_filter(rng.standard_normal((600, 900)), grain_px)
    hills = gaussian_filter(rng.standard_normal((600, 900)), 60.0)
    light = 0.15 * np.exp(contrast * grain / grain.std() + 0.8 * hills / hills.std())
    light[:120, :180] = 0.3
    camera = SimulatedCamera(width=900, height=600, gain_iso100_dn_per_e=0.35, **border)
    shares = light[..., None] * np.array([0.6, 1.0, 0.75])
    taken = camera.expose((shares * LIGHT).astype(np.float32), 1.0, 8.0, rng=6)
    true_or_null(taken, noises_of(measured(taken.mosaic)))


@pytest.mark.parametrize("off_dn", [-10.0, -3.0, 3.0, 10.0])
@pytest.mark.parametrize("iso", [100.0, 800.0])
def test_a_black_level_that_is_off_leaves_no_wrong_read_noise(iso: float, off_dn: float) -> None:
    taken = exposed("RGGB", iso, black_tag_error_dn=off_dn, **NO_BORDER)
    true_or_null(taken, noises_of(measured(taken.mosaic)))


def test_a_scene_without_a_dark_end_tells_no_read_noise_without_a_border() -> None:
    taken = exposed("RGGB", scene="wall 0.2", **NO_BORDER)
    found = measured(taken.mosaic)
    assert [plane.noise.read_noise_dn for plane in found.planes] == [None] * 4
