"""Work out the truth of an exposure from what the simulation knows."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from auditor.model.arrays import F32, U16, Bool
from sample_generation.sensor import Sensor, digital_scale, fixed_pattern
from sample_generation.truth import (
    ExposureTruth,
    PlaneTruth,
    bright_end,
    dark_end,
    headroom_stops,
    middle_and_bright_end,
    noise_floor_dn,
)


@dataclass(frozen=True, slots=True, eq=False)
class Recorded:
    """All that is known of an exposure once it is recorded.

    Parameters
    ----------
    stored : array of uint16
        The stored picture, masked border included.
    noiseless_dn : array of float32
        Light alone in DN over black, not clipped, shape of the visible pixels.
    cut : array of bool
        Pixels whose value was really cut.
    hot_e : array of float32
        What each defective pixel added.
    """

    sensor: Sensor
    stored: U16
    noiseless_dn: F32
    cut: Bool
    hot_e: F32
    time_s: float
    iso: float

    @property
    def visible(self) -> U16:
        """The visible pixels."""
        return self.stored[self.sensor.margin_top :, self.sensor.margin_left :]


def truth_of(recorded: Recorded, *, keep_noiseless: bool) -> ExposureTruth:
    """Work out the truth of every plane and of the frame."""
    sensor = recorded.sensor
    index = fixed_pattern(sensor).hot_index
    sound = np.ones(sensor.samples, dtype=np.bool_)
    sound.reshape(-1)[index] = False
    over = _over_nominal_black(recorded)
    planes = tuple(_plane(recorded, over, sound, p) for p in range(len(sensor.colours.planes)))
    any_blown, all_blown = _blown_cells(recorded)
    positions = np.stack(np.unravel_index(index, sensor.samples)[:2], axis=1).astype(np.int64)
    return ExposureTruth(
        planes=planes,
        blown_any_fraction=any_blown,
        blown_all_fraction=all_blown,
        hot_positions=positions,
        hot_signal_dn=recorded.hot_e * np.float32(sensor.gain_dn_per_e(recorded.iso)),
        noiseless_dn=recorded.noiseless_dn if keep_noiseless else None,
    )


def plane_values(picture: NDArray[Any], sensor: Sensor, plane: int) -> list[NDArray[Any]]:
    """Return views of one plane's values, one for each place of the pattern that it has."""
    if sensor.layout == "LINEAR":
        return [picture[..., plane]]
    rows, cols = sensor.colours.pattern.shape
    return [picture[y::rows, x::cols] for y, x, p in sensor.colours.places() if p == plane]


def _flat(picture: NDArray[Any], sensor: Sensor, plane: int) -> NDArray[Any]:
    return np.concatenate([part.ravel() for part in plane_values(picture, sensor, plane)])


def _plane(recorded: Recorded, over: NDArray[np.int32], sound: Bool, plane: int) -> PlaneTruth:
    sensor, iso = recorded.sensor, recorded.iso
    gain, read = sensor.gain_dn_per_e(iso), sensor.read_noise_dn(iso)
    light = _flat(recorded.noiseless_dn, sensor, plane)
    blacks = _blacks(sensor, plane)
    black = float(np.mean(blacks)) + gain * sensor.dark_current_e_s * recorded.time_s
    saturation, spread = saturation_dn(sensor, plane, iso)
    values = _flat(over, sensor, plane)
    kept = values[_flat(sound, sensor, plane)]
    floor = noise_floor_dn(gain, read)
    median, end = middle_and_bright_end(light)
    signal = saturation - black
    return PlaneTruth(
        name=sensor.colours.planes[plane],
        pixels=light.size,
        black_dn=black,
        saturation_dn=saturation,
        saturation_from_dn=math.floor(saturation - 3.0 * spread),
        saturation_spread_dn=spread,
        gain_dn_per_e=gain,
        read_noise_dn=read,
        noise_floor_dn=floor,
        blown_pixels=int(np.count_nonzero(_flat(recorded.cut, sensor, plane))),
        blocked_fraction=float(np.mean(light < floor)),
        zero_fraction=float(np.mean(values <= 0)),
        headroom_stops=headroom_stops(signal, end),
        headroom_recorded_stops=headroom_stops(signal, bright_end(kept)),
        mean_signal_dn=float(light.mean(dtype=np.float64)),
        median_signal_dn=median,
        dark_signal_dn=dark_end(light),
    )


def saturation_dn(sensor: Sensor, plane: int, iso: float) -> tuple[float, float]:
    """Centre and spread of a plane's clipping level in recorded values."""
    _, scale = digital_scale(iso)
    centre = sensor.saturation_dn - sensor.saturation_plane_step_dn * plane
    recorded = sensor.black_dn + (centre - sensor.black_dn) * scale
    largest = 2.0**sensor.bit_depth - 1.0
    if recorded > largest:
        return largest, 0.0
    return recorded, sensor.saturation_spread_dn * scale


def _blacks(sensor: Sensor, plane: int) -> list[float]:
    pattern = sensor.black_pattern_dn()
    if sensor.layout == "LINEAR":
        return [float(pattern[0, 0, plane])]
    return [float(pattern[y, x]) for y, x, p in sensor.colours.places() if p == plane]


def _over_nominal_black(recorded: Recorded) -> NDArray[np.int32]:
    """Return recorded values less the true black of their place, dark current left in."""
    sensor = recorded.sensor
    signal = recorded.visible.astype(np.int32)
    pattern = np.rint(sensor.black_pattern_dn()).astype(np.int32)
    rows, cols = pattern.shape[:2]
    for y in range(rows):
        for x in range(cols):
            signal[y::rows, x::cols] -= pattern[y, x]
    return signal


def _blown_cells(recorded: Recorded) -> tuple[float, float]:
    """Shares of the pattern's cells with any plane cut, and with every plane cut."""
    sensor = recorded.sensor
    rows, cols = sensor.colours.pattern.shape
    high, wide = sensor.height // rows, sensor.width // cols
    whole = recorded.cut[: high * rows, : wide * cols]
    per_plane = []
    for plane in range(len(sensor.colours.planes)):
        cell = np.zeros((high, wide), dtype=np.bool_)
        for part in plane_values(whole, sensor, plane):
            cell |= part
        per_plane.append(cell)
    stack = np.stack(per_plane)
    return float(stack.any(axis=0).mean()), float(stack.all(axis=0).mean())
