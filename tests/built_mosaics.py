"""Mosaics to measure: made of plain arrays, or exposed by the simulated camera."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from auditor.measures.mosaic import MosaicView
from auditor.model.clip_evidence import ClipEvidence, PlaneEvidence
from auditor.model.codes import Layout, NoiseSource
from auditor.model.measurement import (
    Histogram,
    MosaicMeasurement,
    NoiseEstimate,
    PlaneMeasurement,
)
from auditor.model.mosaic import BlackLevels, MaskedArea, Mosaic
from auditor.model.settings import MeasureSettings
from auditor.noise.estimate import NoiseModel
from auditor.noise.settle import settle_noise
from sample_generation.camera import Exposure, SimulatedCamera

BLACK_DN = 512.0
RGGB = np.array([[0, 1], [2, 3]], dtype=np.uint8)
MONO = np.zeros((1, 1), dtype=np.uint8)
KNOWN_NOISE = NoiseModel(NoiseEstimate(2.0, 0.3, NoiseSource.TRANSFER))
SATURATION_E = (15872.0 - 512.0) / 0.3
"""Electrons that saturate the default sensor at ISO 100."""


def mosaic_of(pixels: NDArray[Any], pattern: NDArray[np.uint8] = MONO, **changes: Any) -> Mosaic:
    """A mosaic of given values; black 512, white 16383, 14 bits unless changed."""
    layout = {1: Layout.MONO, 4: Layout.BAYER, 36: Layout.XTRANS}[pattern.size]
    if pixels.ndim == 3:
        layout = Layout.LINEAR
    planes = {Layout.MONO: 1, Layout.BAYER: 4}.get(layout, 3)
    facts: dict[str, Any] = {
        "black": BlackLevels(np.full((1, 1, 3) if pixels.ndim == 3 else (1, 1), BLACK_DN)),
        "white_dn": (16383.0,) * planes,
        "bit_depth": 14,
    }
    return Mosaic(pixels.astype(np.uint16), layout, pattern, **(facts | changes))


def measured(mosaic: Mosaic) -> MosaicMeasurement:
    return MosaicView(mosaic, MeasureSettings()).measurement


def only_plane(mosaic: Mosaic) -> PlaneMeasurement:
    (plane,) = measured(mosaic).planes
    return plane


def histogram_of(values: NDArray[Any]) -> Histogram:
    """The histogram of some values."""
    whole = np.rint(values).astype(np.int64).ravel()
    first = int(whole.min())
    return Histogram(first, np.bincount(whole - first).astype(np.uint32))


def noisy(
    signal_dn: NDArray[Any] | float,
    shape: tuple[int, int],
    *,
    gain: float = 0.3,
    read: float = 2.0,
    seed: int = 0,
) -> NDArray[np.float64]:
    """Raw values of a signal: black, shot noise (normal) and read noise; not rounded."""
    rng = np.random.default_rng(seed)
    level = np.broadcast_to(np.asarray(signal_dn, dtype=np.float64), shape)
    sigma = np.sqrt(read**2 + gain * np.maximum(level, 0.0))
    return BLACK_DN + level + sigma * rng.standard_normal(shape)


def border_of(
    shape: tuple[int, int], *, black: float = BLACK_DN, read: float = 2.0, seed: int = 9
) -> MaskedArea:
    """A masked border above the picture."""
    values = black + read * np.random.default_rng(seed).standard_normal(shape)
    return MaskedArea(np.rint(values).astype(np.uint16), -shape[0], 0)


def coast(height: int, width: int) -> NDArray[np.float32]:
    """Light of a plain coast in shares of green saturation, shape (height, width, 3).

    A bright sky with a blown glow, a ramp of land that runs down into the noise, soft texture
    on a part of it.
    """
    y, x = np.linspace(0, 1, height)[:, None], np.linspace(0, 1, width)[None, :]
    sky = 0.25 + 0.45 * y + 1.1 * np.exp(-(((x - 0.6) / 0.14) ** 2) - ((y - 0.35) / 0.14) ** 2)
    land = 0.2 * (1.0 - y) ** 3 * (1.0 + 0.5 * np.sin(9 * x)) ** 2 + 2e-5
    waves = 1.0 + 0.3 * np.sin(90 * x + 40 * y) * np.sin(130 * y) * (x < 0.3)
    light = np.where(y < 0.5, sky, land * waves)
    shares: NDArray[np.float32] = (light[..., None] * np.array([0.6, 1.0, 0.75])).astype(np.float32)
    return shares


def clouds(height: int, width: int) -> NDArray[np.float32]:
    """Light of a sky full of clouds, uneven at every scale: nothing in it tells a gain."""
    rng = np.random.default_rng(5)
    down, across = np.fft.fftfreq(height)[:, None], np.fft.fftfreq(width)
    scale = np.hypot(down, across)
    scale[0, 0] = 1.0
    grain = np.fft.ifft2(np.fft.fft2(rng.standard_normal((height, width))) / scale**1.25).real
    light = 0.6 * np.exp(0.45 * grain / grain.std()) * np.linspace(1.2, 0.4, height)[:, None]
    shares: NDArray[np.float32] = (light[..., None] * np.array([0.75, 1.0, 0.85])).astype(
        np.float32
    )
    return shares


def glow(height: int, width: int) -> NDArray[np.float32]:
    """Light of an even sky about the sun: a blown place in it, and nothing dark."""
    y, x = np.linspace(0, 1, height)[:, None], np.linspace(0, 1, width)[None, :]
    light = 0.5 + 0.3 * y + np.exp(-(((x - 0.5) / 0.2) ** 2) - ((y - 0.4) / 0.2) ** 2)
    shares: NDArray[np.float32] = (light[..., None] * np.array([0.8, 1.0, 0.7])).astype(np.float32)
    return shares


def wedge(height: int, width: int) -> NDArray[np.float32]:
    """Light of a sky that is blown over the whole width, down to a dark ground."""
    light = np.linspace(1.5, 0.02, height)[:, None, None] * np.array([0.8, 1.0, 0.7])
    shares: NDArray[np.float32] = np.repeat(light, width, axis=1).astype(np.float32)
    return shares


SCENES = {"coast": coast, "clouds": clouds, "glow": glow, "wedge": wedge}


@lru_cache(maxsize=16)
def exposed(layout: str = "RGGB", iso: float = 100.0, width: int = 900, height: int = 600,
            scene: str = "coast", *, shot: int = 11, **body: Any) -> Exposure:  # fmt: skip
    """A scene exposed by the simulated camera in 1 s at f/8."""
    camera = SimulatedCamera(layout=layout, width=width, height=height, **body)
    share = (
        SCENES[scene](height, width) if scene in SCENES else np.ones((height, width, 3), np.float32)
    )
    if scene.startswith("wall "):
        share = share * np.float32(scene.removeprefix("wall "))
    light = share * np.float32(SATURATION_E * 64.0 * 100.0 / iso)
    return camera.expose(light, 1.0, 8.0, iso, rng=shot)


@lru_cache(maxsize=16)
def measured_coast(layout: str = "RGGB", iso: float = 100.0, **more: Any) -> MosaicMeasurement:
    return measured(exposed(layout, iso, **more).mosaic)


def noises_of(found: MosaicMeasurement) -> list[NoiseEstimate]:
    """The noise of each plane."""
    return [plane.noise for plane in found.planes]


def told_alone(found: MosaicMeasurement) -> list[NoiseEstimate]:
    """The noise of each plane as it is told where no other frame is known."""
    planes = tuple(PlaneEvidence(str(n), 16383.0, None, 0) for n in range(len(found.planes)))
    frame = ClipEvidence(("Brackwell", "Brackwell F45", "7"), 100.0, 14, planes)
    return list(settle_noise({"alone": frame}, {"alone": tuple(noises_of(found))})["alone"])


def true_or_null(taken: Exposure, noises: Sequence[NoiseEstimate]) -> None:
    """Gain and read noise are within 15 % of the truth; or null, and it is said why."""
    for noise, truth in zip(noises, taken.truth.planes, strict=True):
        if noise.gain_dn_per_e is not None:
            assert noise.gain_dn_per_e == pytest.approx(truth.gain_dn_per_e, rel=0.15)
        if noise.read_noise_dn is not None:
            assert noise.read_noise_dn == pytest.approx(truth.read_noise_dn, rel=0.15)
        assert noise.floor_dn is not None or noise.remarks
