"""Frames that the camera made of several exposures or pixels: their noise is right, or null."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from auditor.model.arrays import F64
from auditor.model.mosaic import MaskedArea
from sample_generation.camera import Exposure, SimulatedCamera
from tests.built_mosaics import SATURATION_E, coast, measured, noises_of

SIZE = (800, 1200)
Made = Callable[[F64, F64, np.random.Generator], F64]

MADE: dict[str, tuple[Made, float, float]] = {
    "two exposures, averaged": (
        lambda one, two, rng: np.floor((one + two) / 2.0), 0.5, 0.5**0.5,
    ),
    "two exposures, added up": (lambda one, two, rng: one + two - 512.0, 1.0, 2.0**0.5),
    "a dark frame taken off": (
        lambda one, two, rng: one - 1.08 * rng.standard_normal(one.shape), 1.0, 2.0**0.5,
    ),
    "black clamped row by row": (
        lambda one, two, rng: one - np.rint(np.median(one[:, :24], axis=1) - 512.0)[:, None],
        1.0, 1.0,
    ),
}  # fmt: skip
"""What is made, and by how much it changes gain and read noise."""


def taken(seed: int) -> Exposure:
    light = coast(*SIZE) * np.float32(SATURATION_E * 64.0)
    return SimulatedCamera(width=SIZE[1], height=SIZE[0]).expose(light, 1.0, 8.0, 100.0, rng=seed)


@pytest.mark.parametrize("border", [True, False], ids=["border", "no border"])
@pytest.mark.parametrize(("make", "gains", "reads"), MADE.values(), ids=MADE)
def test_noise_of_made_frames_is_right_or_null(
    make: Made, gains: float, reads: float, border: bool
) -> None:
    frame, other = taken(21), taken(22)
    one, two = (each.stored.astype(np.float64) for each in (frame, other))
    stored = np.rint(make(one, two, np.random.default_rng(5))).clip(0, 65535).astype(np.uint16)
    top, left = frame.sensor.margin_top, frame.sensor.margin_left
    masked = (MaskedArea(stored[:top], -top, -left),) if border else ()
    mosaic = replace(frame.mosaic, pixels=stored[top:, left:], masked=masked, bit_depth=16)
    found = noises_of(measured(mosaic))
    for noise, truth in zip(found, frame.truth.planes, strict=True):
        gain, read = truth.gain_dn_per_e * gains, truth.read_noise_dn * reads
        assert noise.gain_dn_per_e is None or noise.gain_dn_per_e == pytest.approx(gain, rel=0.15)
        assert noise.read_noise_dn is None or noise.read_noise_dn == pytest.approx(read, rel=0.15)
        assert noise.floor_dn is not None or noise.remarks
    assert sum(noise.gain_dn_per_e is not None for noise in found) >= 3
