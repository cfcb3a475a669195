"""The camera's own preview: its white balance, its tone curve, and a clip before the sensor's.

A channel's code is ``255 · curve(x)`` with ``x = signal · wb / (saturation · 2**-early)``,
so it reaches 255 at ``log2(wb) + early`` stops below the true saturation of that channel.
"""

from __future__ import annotations

import io
import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from auditor.model.arrays import F32, U8
from sample_generation.camera import DAYLIGHT_WHITE_BALANCE, Exposure
from sample_generation.truth_of_exposure import plane_values

LONG_SIDE = 1600
STEPS = 16384


@dataclass(frozen=True, slots=True)
class PreviewStyle:
    """How the camera makes its picture.

    Parameters
    ----------
    early_stops : float
        How far before the true saturation a channel with multiplier 1 reaches white.
    white_balance : tuple of float
        Multipliers for R, G and B.
    quality : int
        Of the JPEG.
    """

    early_stops: float = 0.5
    white_balance: tuple[float, float, float] = (
        DAYLIGHT_WHITE_BALANCE["R"],
        DAYLIGHT_WHITE_BALANCE["G"],
        DAYLIGHT_WHITE_BALANCE["B"],
    )
    quality: int = 90

    def early_stops_by_channel(self) -> dict[str, float]:
        """Tell how many stops before the true saturation each channel of it clips."""
        names = ("R", "G", "B")
        gains = zip(names, self.white_balance, strict=True)
        return {name: math.log2(gain) + self.early_stops for name, gain in gains}


def tone_curve(x: F32) -> F32:
    """Camera-like curve from 0 to 1: the sRGB curve with a gentle S (IEC 61966-2-1)."""
    linear = np.clip(x, 0.0, 1.0)
    encoded = np.where(
        linear <= 0.0031308, 12.92 * linear, 1.055 * np.power(linear, 1 / 2.4) - 0.055
    )
    return np.asarray(encoded + 0.35 * encoded * (1 - encoded) * (encoded - 0.35), np.float32)


@lru_cache(maxsize=1)
def _codes() -> U8:
    """Table of the curve's codes; 255 only where it ends, so that white means clipped."""
    x = np.linspace(0.0, 1.0, STEPS + 1, dtype=np.float32)
    codes: U8 = np.floor(tone_curve(x) * 255.0 + 1e-3).astype(np.uint8)
    return codes


def preview_picture(exposure: Exposure, style: PreviewStyle) -> U8:
    """Render the recorded values, averaged over whole pattern cells; shape (h, w, 3)."""
    planes = _small_planes(exposure)
    saturations = [p.saturation_signal_dn for p in exposure.truth.planes]
    relative = [plane / np.float32(level) for plane, level in zip(planes, saturations, strict=True)]
    if len(relative) == 1:
        relative = relative * 3
    elif len(relative) == 4:
        relative = [relative[0], (relative[1] + relative[2]) / 2, relative[3]]
    gains = (1.0, 1.0, 1.0) if len(planes) == 1 else style.white_balance
    scaled = np.stack(relative, axis=-1) * (
        np.asarray(gains, dtype=np.float32) * np.float32(2.0**style.early_stops)
    )
    steps = np.minimum(scaled * np.float32(STEPS), np.float32(STEPS)).astype(np.int32)
    codes: U8 = _codes()[steps]
    return codes


def preview_jpeg(exposure: Exposure, style: PreviewStyle) -> tuple[bytes, int, int]:
    """Render and encode the preview; also tell its width and height."""
    picture = preview_picture(exposure, style)
    out = io.BytesIO()
    Image.fromarray(picture).save(out, "JPEG", quality=style.quality, subsampling=0)
    return out.getvalue(), picture.shape[1], picture.shape[0]


def _small_planes(exposure: Exposure) -> list[F32]:
    """Mean signal of each plane over blocks of whole pattern cells, not under black."""
    sensor = exposure.sensor
    cell = sensor.colours.pattern.shape[0]
    block = cell * max(1, math.ceil(max(sensor.samples[:2]) / LONG_SIDE / cell))
    high, wide = sensor.height // block, sensor.width // block
    pixels = exposure.mosaic.pixels[: high * block, : wide * block]
    small = []
    for plane, truth in enumerate(exposure.truth.planes):
        parts = [_block_sums(part, high, wide) for part in plane_values(pixels, sensor, plane)]
        count = sum(part.size for part in plane_values(pixels, sensor, plane)) / (high * wide)
        mean = np.sum(parts, axis=0) / np.float32(count) - np.float32(truth.black_dn)
        small.append(np.maximum(mean, 0.0).astype(np.float32))
    return small


def _block_sums(values: NDArray[Any], high: int, wide: int) -> F32:
    """Sum ``values`` over a grid of high x wide equal blocks."""
    down, across = values.shape[0] // high, values.shape[1] // wide
    rows = values.reshape(high, down, values.shape[1]).sum(axis=1, dtype=np.float32)
    return np.asarray(rows.reshape(high, wide, across).sum(axis=2, dtype=np.float32))
