"""The simulated sensor: what one body is made of, and what is fixed in it for life."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from auditor.model.arrays import F32, F64
from sample_generation.coding import AS_RECORDED, Coding
from sample_generation.layouts import ColourLayout, colour_layout

STRIPE_ROWS = 240
"""Rows worked on at a time: a multiple of both pattern heights, small enough for any cache."""

STEPS = 40.0
"""Steps of one standard deviation in which each pixel's own response and level are kept."""


@dataclass(frozen=True, slots=True)
class Sensor:
    """One body's sensor. All values are true ones; only the ``*_tag`` values are claims.

    Parameters
    ----------
    layout : str
        One of :data:`sample_generation.layouts.LAYOUT_NAMES`.
    width, height : int
        Visible pixels.
    margin_top, margin_left : int
        Masked rows above and columns left of them; odd values are allowed.
    black_dn : float
        Mean black level.
    black_step_dn : float
        How far the black levels of the places of the pattern lie apart.
    black_tag_error_dn : float
        What the file's black level is off by.
    white_tag_dn : int
        The saturation that the file claims.
    saturation_dn : float
        Where the sensor really clips (centre, first plane).
    saturation_plane_step_dn : float
        Each further plane clips this much lower.
    saturation_spread_dn : float
        Standard deviation over the pixels, cut at three of them; fixed for each pixel.
    saturation_row_spread_dn : float
        Likewise over whole rows, on top.
    spill : float
        Share of what a pixel cannot hold that runs into each of its four neighbours.
    knee : float
        Share of the range, under the top, in which the response bends over; 0 for none.
    coding : Coding
        What the file's way of packing does to the recorded values.
    gain_iso100_dn_per_e : float
    read_noise_e, adc_noise_dn : float
        Noise before and after the amplifier.
    prnu : float
        Standard deviation of the pixels' response.
    dark_current_e_s : float
    hot_per_megapixel : float
        Defective pixels; how many show depends on the time.
    hot_current_e_s : float
        Median of their (log-normal) dark current.
    vignetting_stops : float
        Loss in the corners at f/4; :func:`corner_loss_stops` tells it for other apertures.
    seed : int
        Of everything that is fixed in this body.
    """

    layout: str = "RGGB"
    width: int = 600
    height: int = 400
    margin_top: int = 12
    margin_left: int = 24
    bit_depth: int = 14
    black_dn: float = 512.0
    black_step_dn: float = 1.0
    black_tag_error_dn: float = 0.0
    white_tag_dn: int = 16383
    saturation_dn: float = 15872.0
    saturation_plane_step_dn: float = 9.0
    saturation_spread_dn: float = 2.0
    saturation_row_spread_dn: float = 0.0
    spill: float = 0.0
    knee: float = 0.0
    coding: Coding = AS_RECORDED
    gain_iso100_dn_per_e: float = 0.3
    read_noise_e: float = 2.2
    adc_noise_dn: float = 0.8
    prnu: float = 0.004
    dark_current_e_s: float = 0.01
    hot_per_megapixel: float = 60.0
    hot_current_e_s: float = 40.0
    vignetting_stops: float = 0.0
    seed: int = 1

    @property
    def colours(self) -> ColourLayout:
        """The layout with its pattern."""
        return colour_layout(self.layout)

    @property
    def samples(self) -> tuple[int, ...]:
        """Shape of the visible pixels: (height, width), or (height, width, 3) for linear."""
        size = (self.height, self.width)
        return (*size, 3) if self.layout == "LINEAR" else size

    def black_pattern_dn(self) -> F64:
        """Return the true black of each place, dark current left out; (1, 1, 3) for linear."""
        shape = (1, 1, 3) if self.layout == "LINEAR" else self.colours.pattern.shape
        count = int(np.prod(shape))
        offsets = (np.arange(count) * 3 + 1) % 4 - 1.5 if count > 1 else np.zeros(1)
        return np.rint(self.black_dn + self.black_step_dn * offsets).reshape(shape)

    def gain_dn_per_e(self, iso: float) -> float:
        """Gain of the recorded values."""
        return self.gain_iso100_dn_per_e * iso / 100.0

    def read_noise_dn(self, iso: float) -> float:
        """Read noise of the recorded values, quantisation included (1/12 DN² a rounding)."""
        native, scale = digital_scale(iso)
        before = self.read_noise_e * self.gain_dn_per_e(native)
        noise = math.sqrt(before**2 + self.adc_noise_dn**2 + 1.0 / 12.0) * scale
        return noise if scale == 1.0 else math.sqrt(noise**2 + 1.0 / 12.0)


def digital_scale(iso: float) -> tuple[float, float]:
    """Tell the amplifier's ISO and the digital factor that make up an ISO setting.

    The amplifier has whole stops only (100, 200, 400, ...). The settings between are made by
    multiplying the recorded values: a third over a whole stop is pushed (x 1.26), two thirds
    are pulled from the next whole stop (x 0.79), as common practice in cameras.
    """
    stops = math.log2(iso / 100.0)
    native = 100.0 * 2.0 ** round(stops)
    return native, iso / native


def corner_loss_stops(vignetting_stops: float, f_number: float) -> float:
    """Light lost in the corner: mild when stopped down, more towards f/4."""
    return vignetting_stops * (0.4 + 9.6 / f_number**2)


@dataclass(frozen=True, slots=True, eq=False)
class FixedPattern:
    """What is fixed in a body: response, clipping level and defects of each visible pixel.

    Parameters
    ----------
    response : array of int8
        Relative response less 1, in ``prnu / STEPS``; cut at three deviations.
    level : array of int8
        Clipping level against its plane's centre, in ``spread / STEPS``; likewise.
    row_level : array of int8
        What is added to it in each row, in ``row spread / STEPS``.
    hot_index : array of int64
        Flat indices of defective pixels, sorted.
    hot_current_e_s : array of float32
    """

    response: NDArray[np.int8]
    level: NDArray[np.int8]
    row_level: NDArray[np.int8]
    hot_index: NDArray[np.int64]
    hot_current_e_s: F32


@lru_cache(maxsize=3)
def fixed_pattern(sensor: Sensor) -> FixedPattern:
    """Make the fixed pattern of a body; the same for the same sensor record."""
    rng = np.random.default_rng([sensor.seed, 7001])
    response = _normal_steps(rng, sensor.samples)
    level = _normal_steps(rng, sensor.samples)
    total = response.size
    count = round(sensor.hot_per_megapixel * total / 1e6)
    index = np.sort(rng.choice(total, size=count, replace=False, shuffle=False))
    current = sensor.hot_current_e_s * np.exp(1.2 * rng.standard_normal(count))
    rows = _normal_steps(np.random.default_rng([sensor.seed, 7002]), (sensor.height,))
    return FixedPattern(response, level, rows, index.astype(np.int64), current.astype(np.float32))


def _normal_steps(rng: np.random.Generator, shape: tuple[int, ...]) -> NDArray[np.int8]:
    """Draw normal values, cut at three deviations, in :data:`STEPS`."""
    steps = np.empty(shape, dtype=np.int8)
    for top in range(0, shape[0], STRIPE_ROWS):
        part = slice(top, top + STRIPE_ROWS)
        draw = rng.standard_normal(steps[part].shape, dtype=np.float32)
        steps[part] = np.rint(np.clip(draw, -3.0, 3.0) * STEPS)
    return steps
