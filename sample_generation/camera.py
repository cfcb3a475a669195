"""The simulated camera: light in, a mosaic and its whole truth out. No files here.

For a pixel that would get ``L`` electrons a second at f/1::

    light  = L t / N² · filters · vignetting · (1 + response)        electrons
    charge = Poisson(light + dark t)                                  (normal from 25 e up)
    value  = black + g · charge + Normal(0, r)                        DN
    record = round(min(value, clipping level of this very pixel))
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from auditor.model.arrays import F32, F64, U16, Bool
from auditor.model.mosaic import BlackLevels, MaskedArea, Mosaic
from auditor.model.orientation import upright
from sample_generation.filters import GraduatedFilter, NeutralFilter
from sample_generation.sensor import (
    STEPS,
    STRIPE_ROWS,
    Sensor,
    corner_loss_stops,
    digital_scale,
    fixed_pattern,
)
from sample_generation.truth import ExposureTruth
from sample_generation.truth_of_exposure import Recorded, truth_of

POISSON_BELOW_E = 25.0
"""Below this many electrons the shot noise is drawn from Poisson's law itself."""

DAYLIGHT_WHITE_BALANCE = {"R": 2.0, "G": 1.0, "B": 1.5}
"""Multipliers of an invented body in daylight: a neutral gives (1/2, 1, 2/3) of green."""

TO_SENSOR = {1: 1, 2: 2, 3: 3, 4: 4, 5: 5, 6: 8, 7: 7, 8: 6}
"""The turn that undoes each Exif orientation."""


@dataclass(frozen=True, slots=True, eq=False)
class Exposure:
    """One exposure.

    Parameters
    ----------
    mosaic : Mosaic
        As a reader of the file would hand it over.
    truth : ExposureTruth
    stored : array of uint16
        The whole stored picture, masked border included.
    """

    mosaic: Mosaic
    truth: ExposureTruth
    stored: U16
    sensor: Sensor
    time_s: float
    f_number: float
    iso: float


class SimulatedCamera:
    """A body to expose scenes with.

    Parameters
    ----------
    sensor : Sensor or None
        The whole body; None for the default one.
    **changes
        Fields of :class:`Sensor` to change, such as ``layout="XTRANS"``.
    """

    def __init__(self, sensor: Sensor | None = None, **changes: Any) -> None:
        self.sensor = replace(sensor or Sensor(), **changes)

    def expose(
        self, radiance_rgb: F32 | F64, time_s: float, f_number: float = 8.0, iso: float = 100.0, *,
        filters: Sequence[NeutralFilter] = (), grad: GraduatedFilter | None = None,
        rng: np.random.Generator | int = 0, orientation: int = 1,
        cap_on: bool = False, keep_noiseless: bool = False,
    ) -> Exposure:  # fmt: skip
        """Expose a scene.

        Parameters
        ----------
        radiance_rgb : array, shape (height, width, 3) or (height, width), upright
            Electrons a second that a pixel collects at f/1 in red, green and blue light.
        filters, grad
            Before the lens; densities add.
        rng : Generator or int
            Of the noise of this exposure.
        orientation : int
            Exif orientation: how the camera was held.
        cap_on : bool
            No light at all.
        keep_noiseless : bool
            Keep ``truth.noiseless_dn``.

        Raises
        ------
        ValueError
            The radiance has another size than the sensor.
        """
        sensor = self.sensor
        passed = _passed(0.0 if cap_on else time_s / f_number**2, filters)
        collected = _collected(sensor, radiance_rgb, passed, orientation)
        _dim(collected, _vignetting(sensor, f_number))
        if grad is not None:
            _dim(collected, _grad_shares(grad, radiance_rgb, orientation))
        recorded = _record(sensor, collected, time_s, iso, np.random.default_rng(rng))
        truth = truth_of(recorded, keep_noiseless=keep_noiseless)
        mosaic = _mosaic(sensor, recorded.stored)
        return Exposure(mosaic, truth, recorded.stored, sensor, time_s, f_number, iso)


def _collected(sensor: Sensor, radiance: NDArray[Any], passed: F64, orientation: int) -> F32:
    """Electrons of upright light on the sensor as it is held, before the lens takes its share."""
    turned: NDArray[Any] = upright(radiance, TO_SENSOR[orientation])
    if turned.shape[:2] != (sensor.height, sensor.width):
        raise ValueError(f"{turned.shape[:2]} on a sensor of {sensor.samples[:2]}")
    return _on_pattern(turned, passed, sensor)


def _grad_shares(grad: GraduatedFilter, radiance: NDArray[Any], orientation: int) -> F32:
    """Share of light that a graduated filter passes, for each place of the sensor as it is held."""
    rows = grad.transmission(radiance.shape[0])[:, None]
    shares: F32 = upright(np.broadcast_to(rows, radiance.shape[:2]), TO_SENSOR[orientation])
    return shares


def _passed(factor: float, filters: Sequence[NeutralFilter]) -> F64:
    """Electrons for each unit of radiance in red, green and blue, behind all filters."""
    passed = np.full(3, factor)
    for each in filters:
        passed = passed * each.transmission()
    return passed


def _dim(collected: F32, share: F32) -> None:
    """Multiply by a share for each place, in place; three samples a place for linear."""
    collected *= share[..., None] if collected.ndim == 3 else share


def _vignetting(sensor: Sensor, f_number: float) -> F32:
    """Share of light left, ``2**(-loss · r²)`` with r = 1 in the corners, shape (h, w)."""
    loss = corner_loss_stops(sensor.vignetting_stops, f_number)
    diagonal = float(np.hypot(sensor.height, sensor.width))
    y = (np.arange(sensor.height) * 2.0 + 1.0 - sensor.height) / diagonal
    x = (np.arange(sensor.width) * 2.0 + 1.0 - sensor.width) / diagonal
    down, across = np.exp2(-loss * y**2), np.exp2(-loss * x**2)
    left: F32 = down[:, None].astype(np.float32) * across[None, :].astype(np.float32)
    return left


def _on_pattern(radiance: NDArray[Any], passed: F64, sensor: Sensor) -> F32:
    """Keep the light that each pixel's colour lets through, shape of the pixels."""
    channels = radiance[..., None] if radiance.ndim == 2 else radiance
    channels = np.broadcast_to(channels, (*channels.shape[:2], 3))
    if sensor.layout == "LINEAR":
        return (channels * passed).astype(np.float32)
    if sensor.layout == "MONO":
        return np.asarray((channels @ (passed / 3.0)), dtype=np.float32)
    colours = sensor.colours
    rows, cols = colours.pattern.shape
    mosaic = np.empty(sensor.samples, dtype=np.float32)
    for y, x, plane in colours.places():
        channel = colours.channel(plane)
        mosaic[y::rows, x::cols] = channels[y::rows, x::cols, channel] * passed[channel]
    return mosaic


def _record(
    sensor: Sensor, collected: F32, time_s: float, iso: float, rng: np.random.Generator
) -> Recorded:
    """Turn electrons into recorded values; ``collected`` becomes the noiseless signal."""
    stored = _masked_border(sensor, time_s, iso, rng)
    visible = stored[sensor.margin_top :, sensor.margin_left :]
    cut = np.empty(sensor.samples, dtype=np.bool_)
    fixed = fixed_pattern(sensor)
    hot_e = fixed.hot_current_e_s * np.float32(time_s)
    row_size = collected[0].size
    _spill(sensor, collected, iso)
    for top in range(0, sensor.height, STRIPE_ROWS):
        part = slice(top, min(top + STRIPE_ROWS, sensor.height))
        electrons = collected[part]
        electrons *= 1.0 + fixed.response[part] * np.float32(sensor.prnu / STEPS)
        charge = electrons + np.float32(sensor.dark_current_e_s * time_s)
        first, last = np.searchsorted(fixed.hot_index, (top * row_size, part.stop * row_size))
        charge.reshape(-1)[fixed.hot_index[first:last] - top * row_size] += hot_e[first:last]
        _bend(sensor, charge, iso)
        limit = _clip_levels(sensor, fixed.level[part])
        rows_dn = fixed.row_level[part] * np.float32(sensor.saturation_row_spread_dn / STEPS)
        limit += rows_dn.reshape(-1, *(1,) * (limit.ndim - 1))
        visible[part], cut[part] = _read_out(sensor, charge, limit, iso, rng)
    collected *= np.float32(sensor.gain_dn_per_e(iso))
    visible[...] = sensor.coding.coded(visible, cut, sensor.colours.pattern, rng)
    return Recorded(sensor, stored, collected, cut, hot_e, time_s, iso)


def _full_e(sensor: Sensor, iso: float) -> float:
    """Electrons at which the first plane clips."""
    native, _ = digital_scale(iso)
    return (sensor.saturation_dn - sensor.black_dn) / sensor.gain_dn_per_e(native)


def _spill(sensor: Sensor, electrons: F32, iso: float) -> None:
    """Let what full pixels cannot hold run into their neighbours, in place."""
    if sensor.spill:
        over = np.clip(electrons - np.float32(_full_e(sensor, iso)), 0.0, _full_e(sensor, iso))
        over *= np.float32(sensor.spill)
        electrons[1:] += over[:-1]
        electrons[:-1] += over[1:]
        electrons[:, 1:] += over[:, :-1]
        electrons[:, :-1] += over[:, 1:]


def _bend(sensor: Sensor, electrons: F32, iso: float) -> None:
    """Bend the response over near the top, in place: what lies above creeps up to it."""
    if sensor.knee:
        full = np.float32(_full_e(sensor, iso))
        start, room = full * np.float32(1.0 - sensor.knee), full * np.float32(sensor.knee)
        above = electrons > start
        electrons[above] = start + room * (1.0 - np.exp((start - electrons[above]) / room))


def _shot_variance_e2(sensor: Sensor, charge_e: F32, iso: float) -> F32:
    """Variance of what was collected: where the response bends, noise is bent over with it."""
    if not sensor.knee:
        return charge_e
    full = np.float32(_full_e(sensor, iso))
    room = full * np.float32(sensor.knee)
    slope = np.clip((full - charge_e) / room, 1e-3, 1.0)
    variance: F32 = (charge_e - room * np.log(slope)) * slope**2
    return np.where(charge_e > full - room, variance, charge_e)


def _masked_border(sensor: Sensor, time_s: float, iso: float, rng: np.random.Generator) -> U16:
    """Make the stored picture with its masked rows and columns filled, the rest zero."""
    shape = (sensor.height + sensor.margin_top, sensor.width + sensor.margin_left)
    stored = np.zeros((*shape, *sensor.samples[2:]), dtype=np.uint16)
    whole = np.s_[:, :]
    borders = (np.s_[: sensor.margin_top, :], np.s_[sensor.margin_top :, : sensor.margin_left])
    for rows, cols in borders:
        border = stored[rows, cols]
        if border.size:
            top = 0 if rows.start is None else rows.start
            charge = np.full(border.shape, sensor.dark_current_e_s * time_s, dtype=np.float32)
            limit = np.full(border.shape, np.inf, dtype=np.float32)
            origin = (top - sensor.margin_top, -sensor.margin_left)
            border[whole], _ = _read_out(sensor, charge, limit, iso, rng, origin=origin)
    return stored


def _read_out(
    sensor: Sensor,
    charge_e: F32,
    limit_dn: F32,
    iso: float,
    rng: np.random.Generator,
    *,
    origin: tuple[int, int] = (0, 0),
) -> tuple[U16, Bool]:
    """Add noise and black, cut at each pixel's limit and round; also tell which were cut."""
    native, scale = digital_scale(iso)
    gain = np.float32(sensor.gain_dn_per_e(native))
    before = sensor.read_noise_e * float(gain)
    read_variance = np.float32(before**2 + sensor.adc_noise_dn**2)
    few = charge_e < POISSON_BELOW_E
    shot_variance = np.where(few, np.float32(0.0), _shot_variance_e2(sensor, charge_e, iso))
    charge_e[few] = rng.poisson(charge_e[few])
    black = _tiled(sensor.black_pattern_dn(), charge_e.shape, origin)
    value = rng.standard_normal(charge_e.shape, dtype=np.float32)
    value *= np.sqrt(shot_variance * gain**2 + read_variance)
    value += charge_e * gain + black
    cut = value >= limit_dn
    recorded = np.rint(np.minimum(value, limit_dn))
    if scale != 1.0:
        recorded = np.rint((recorded - black) * np.float32(scale) + black)
    largest = 2**sensor.bit_depth - 1
    cut |= recorded > largest
    return np.clip(recorded, 0, largest).astype(np.uint16), cut


def _clip_levels(sensor: Sensor, level: Any) -> F32:
    """Clipping level of each pixel in amplifier values (before the digital factor)."""
    planes = np.arange(len(sensor.colours.planes))
    centres = sensor.saturation_dn - sensor.saturation_plane_step_dn * planes
    per_place = centres[sensor.colours.pattern]
    if sensor.layout == "LINEAR":
        per_place = centres[None, None, :]
    spread = np.float32(sensor.saturation_spread_dn / STEPS)
    limits: F32 = _tiled(per_place, level.shape, (0, 0)) + level * spread
    return limits


def _tiled(pattern: NDArray[Any], shape: tuple[int, ...], origin: tuple[int, int]) -> F32:
    """Repeat a pattern over ``shape``; ``origin`` is the first pixel's visible (row, column)."""
    rows, cols = pattern.shape[:2]
    shifted = np.roll(pattern, (-origin[0], -origin[1]), axis=(0, 1)).astype(np.float32)
    repeats = (-(-shape[0] // rows), -(-shape[1] // cols)) + (1,) * (len(shape) - 2)
    return np.tile(shifted, repeats)[: shape[0], : shape[1]]


def _mosaic(sensor: Sensor, stored: U16) -> Mosaic:
    """Hand the exposure over as a reader of its file would."""
    top, left = sensor.margin_top, sensor.margin_left
    masked = []
    if top:
        masked.append(MaskedArea(stored[:top].copy(), -top, -left))
    if left:
        masked.append(MaskedArea(stored[top:, :left].copy(), 0, -left))
    colours = sensor.colours
    return Mosaic(
        pixels=stored[top:, left:],
        layout=colours.layout,
        pattern=colours.pattern,
        black=BlackLevels(sensor.black_pattern_dn() + sensor.black_tag_error_dn),
        white_dn=(float(sensor.white_tag_dn),) * len(colours.planes),
        bit_depth=sensor.bit_depth,
        masked=tuple(masked) if sensor.layout != "LINEAR" else (),
        white_balance={} if sensor.layout == "MONO" else dict(DAYLIGHT_WHITE_BALANCE),
    )
