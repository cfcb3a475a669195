"""What odd sensors and packing do to the values that the simulated camera recorded."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from scipy.ndimage import gaussian_filter

from auditor.model.arrays import F64
from auditor.model.mosaic import BlackLevels, MaskedArea, Mosaic
from sample_generation.camera import Exposure
from tests.built_mosaics import BLACK_DN

GAIN = 0.3
"""DN per electron of the default body at ISO 100."""

Effect = Callable[[F64, np.random.Generator], F64]
"""Takes the whole stored values, masked border included."""


def remade(taken: Exposure, effect: Effect) -> Mosaic:
    """Return the mosaic of an exposure after an effect."""
    top, left = taken.sensor.margin_top, taken.sensor.margin_left
    values = effect(taken.stored.astype(np.float64), np.random.default_rng(9))
    stored = np.rint(values).clip(0, 65535).astype(np.uint16)
    masked = [MaskedArea(stored[:top], -top, -left)] * bool(top)
    masked += [MaskedArea(stored[top:, :left], 0, -left)] * bool(left)
    return replace(taken.mosaic, pixels=stored[top:, left:], masked=tuple(masked))


def banded(sigma_dn: float) -> Effect:
    """Noise of whole rows."""
    return lambda values, rng: values + rng.normal(0.0, sigma_dn, (len(values), 1))


def drifting(across_dn: float) -> Effect:
    """Black that climbs from left to right."""
    return lambda values, _: values + np.linspace(0.0, across_dn, values.shape[1])


def leaking(brightest_dn: float) -> Effect:
    """Light that leaks in at the left, over the masked border and a little way into the picture."""

    def effect(values: F64, rng: np.random.Generator) -> F64:
        light = brightest_dn * np.exp(-np.arange(values.shape[1]) / 40.0)
        return values + light + rng.standard_normal(values.shape) * np.sqrt(GAIN * light)

    return effect


def cut_at_black(values: F64, _: np.random.Generator) -> F64:
    """Black taken off before writing; what lies under it is lost."""
    return values - BLACK_DN


def coarse(step_dn: float) -> Effect:
    """Fewer bits than the file claims."""
    return lambda values, _: np.floor(values / step_dn) * step_dn


def cut_at(dn: float) -> Effect:
    """What lies under a value is written as that value."""
    return lambda values, _: np.maximum(values, dn)


def companded(bits: int) -> Effect:
    """Packed by the square root of the values, as straightened again by the reader."""

    def effect(values: F64, _: np.random.Generator) -> F64:
        codes = np.rint(np.sqrt(values / 16383.0) * (2**bits - 1))
        straight: F64 = (codes / (2**bits - 1)) ** 2 * 16383.0
        return straight

    return effect


def rooted(step_dn: float) -> Effect:
    """Packed by roots that begin at black, and straightened: there codes lie so far apart."""

    def effect(values: F64, _: np.random.Generator) -> F64:
        under = 64.0  # what is packed of the noise under black
        codes_a_root = 2.0 * under**0.5 / step_dn
        codes = np.rint(codes_a_root * np.sqrt(np.maximum(values - BLACK_DN + under, 0.0)))
        straight: F64 = (codes / codes_a_root) ** 2 - under + BLACK_DN
        return straight

    return effect


def packed_in_steps(share: float) -> Effect:
    """Steps of powers of two that grow with the noise of light, to a share of it."""

    def effect(values: F64, _: np.random.Generator) -> F64:
        signal = np.maximum(values - BLACK_DN, 1.0)
        step = np.exp2(np.floor(np.log2(np.maximum(share * np.sqrt(GAIN * signal), 1.0))))
        packed: F64 = np.floor((values - BLACK_DN) / step) * step + step // 2 + BLACK_DN
        return packed

    return effect


def climbing(down_dn: float) -> Effect:
    """Black that climbs from row to row of the picture; the masked border does not tell it."""

    def effect(values: F64, _: np.random.Generator) -> F64:
        values[40:, 40:] += np.linspace(0.0, down_dn, len(values) - 40)[:, None]
        return values

    return effect


def two_gains(share: float) -> Effect:
    """Two rows in turn read with another gain, as some sensors do for their range."""

    def effect(values: F64, _: np.random.Generator) -> F64:
        odd = np.arange(len(values)) // 2 % 2 == 1
        values[odd] = BLACK_DN + (values[odd] - BLACK_DN) * share
        return values

    return effect


def rows_brighter(share: float, every: int) -> Effect:
    """Rows with pixels for phase detection, brightened after they were digitised."""

    def effect(values: F64, _: np.random.Generator) -> F64:
        rows = values[43::every]
        rows[:] = (BLACK_DN + (rows - BLACK_DN) * share).clip(0, 16383)
        return values

    return effect


def multiplied(by: float, rows: int) -> Effect:
    """So many rows brightened after they were digitised, as many darkened, in turn."""

    def effect(values: F64, _: np.random.Generator) -> F64:
        turn = np.where(np.arange(len(values) - 12) // rows % 2, 1.0 + by, 1.0 - by)[:, None]
        shown = values[12:, 24:]
        shown[:] = (BLACK_DN + (shown - BLACK_DN) * turn).clip(0, 16383)
        return values

    return effect


def bent(share: float, power: float) -> Effect:
    """A response that falls behind the light: by so much of the signal at the top."""

    def effect(values: F64, _: np.random.Generator) -> F64:
        range_dn = 15872.0 - BLACK_DN
        signal = (values - BLACK_DN) / range_dn
        fallen: F64 = BLACK_DN + range_dn * signal * (1.0 - share * np.abs(signal) ** power)
        return fallen

    return effect


def mixed(share: float) -> Effect:
    """Each pixel takes a share from each of its four neighbours, of other colours in a mosaic."""

    def effect(values: F64, _: np.random.Generator) -> F64:
        beside = [np.roll(values, by, axis) for by in (1, -1) for axis in (0, 1)]
        shared: F64 = values * (1.0 - 4.0 * share) + share * np.sum(beside, axis=0)
        return shared

    return effect


def trailing(share: float) -> Effect:
    """A share of each pixel is read with the next one of its row."""
    return lambda values, _: values * (1.0 - share) + share * np.roll(values, 1, axis=1)


def shrunk(share: float, sigmas: float) -> Effect:
    """Noise reduction: differences from the mean of like pixels, up to so many sigmas, shrink."""

    def effect(values: F64, _: np.random.Generator) -> F64:
        for y in range(2):
            for x in range(2):
                own = values[y::2, x::2]
                even = gaussian_filter(own, 1.5)
                limit = sigmas * np.sqrt(4.0 + GAIN * np.maximum(even - BLACK_DN, 0.0))
                off = own - even
                less = np.maximum(np.abs(off) - limit, 0.0) + share * np.minimum(np.abs(off), limit)
                own[:] = even + np.sign(off) * less
        return values

    return effect


def two_lines(at_dn: float, share: float) -> Effect:
    """A response of two straight lines: beyond a signal the light counts for a share."""

    def effect(values: F64, _: np.random.Generator) -> F64:
        signal = values - BLACK_DN
        return np.where(signal > at_dn, BLACK_DN + at_dn + (signal - at_dn) * share, values)

    return effect


def swelling(by: float, rows: int) -> Effect:
    """Rows brightened and darkened in waves after they were digitised."""

    def effect(values: F64, _: np.random.Generator) -> F64:
        shown = values[12:, 24:]
        wave = 1.0 + by * np.sin(np.arange(len(shown)) * 2.0 * np.pi / rows)[:, None]
        shown[:] = (BLACK_DN + (shown - BLACK_DN) * wave).clip(0, 16383)
        return values

    return effect


def bright_columns(count: int, dn: float) -> Effect:
    """Columns that are bright all over, whatever the light."""

    def effect(values: F64, rng: np.random.Generator) -> F64:
        shape = values[40:, 300 : 300 + count].shape
        values[40:, 300 : 300 + count] = dn - np.abs(rng.standard_normal(shape))
        return values

    return effect


def halves(by_dn: float) -> Effect:
    """The right half read out over another black."""

    def effect(values: F64, _: np.random.Generator) -> F64:
        values[:, values.shape[1] // 2 :] += by_dn
        return values

    return effect


def phase_pixels(share: float, every: int) -> Effect:
    """Pixels for phase detection get so much less light, in some rows and columns of red."""

    def effect(values: F64, _: np.random.Generator) -> F64:
        pixels = values[2::every, 2::every]
        pixels[:] = BLACK_DN + (pixels - BLACK_DN) * share
        return values

    return effect


def lens_corrected(loss_stops: float, top: int, left: int) -> Effect:
    """Corners as bright as the centre: multiplied by what the lens lost, the border is not."""

    def effect(values: F64, _: np.random.Generator) -> F64:
        shown = values[top:, left:]
        down, across = (np.arange(size) - size / 2.0 + 0.5 for size in shown.shape)
        corner2 = (shown.shape[0] ** 2 + shown.shape[1] ** 2) / 4.0
        radius2 = (down[:, None] ** 2 + across**2) / corner2
        shown[:] = (BLACK_DN + (shown - BLACK_DN) * 2.0 ** (loss_stops * radius2)).clip(0, 16383)
        return values

    return effect


def clipping_lower(by_dn: float, place: str, sat_dn: float = 15872.0) -> Effect:
    """Rows or columns that take turns by two, a half, or corners clip lower by so much."""

    def effect(values: F64, rng: np.random.Generator) -> F64:
        height, width = values.shape[:2]
        down, across = np.indices(values.shape)[:2]
        share = {
            "rows": down // 2 % 2,
            "columns": across // 2 % 2,
            "half": across >= width / 2,
            "corners": ((down / height - 0.5) ** 2 + (across / width - 0.5) ** 2) * 2.0,
        }[place]
        limit = sat_dn - by_dn * share + 2.0 * rng.standard_normal(values.shape)
        lower: F64 = np.minimum(values, limit)
        return lower

    return effect


def dark_smoothed(under_dn: float) -> Effect:
    """Noise reduction in the shadows alone."""

    def effect(values: F64, _: np.random.Generator) -> F64:
        for y in range(2):
            for x in range(2):
                own = values[y::2, x::2]
                dark = gaussian_filter(own, 2.0) - BLACK_DN < under_dn
                values[y::2, x::2] = np.where(dark, gaussian_filter(own, 0.6), own)
        return values

    return effect


def smoothed(width_px: float) -> Effect:
    """All pixels smoothed over those of their own colour, the masked border too."""

    def effect(values: F64, _: np.random.Generator) -> F64:
        for y in range(2):
            for x in range(2):
                values[y::2, x::2] = gaussian_filter(values[y::2, x::2], width_px)
        return values

    return effect


def codes_missing(within_dn: int) -> Effect:
    """No value lies nearer to black than so many DN: what would, is moved away."""

    def effect(values: F64, _: np.random.Generator) -> F64:
        off = np.rint(values - BLACK_DN)
        away = np.where(off >= 0, within_dn, -within_dn)
        moved: F64 = BLACK_DN + np.where(np.abs(off) < within_dn, away, off)
        return moved

    return effect


def read_twice(above_dn: float, read_dn: float) -> Effect:
    """Pixels brighter than a signal are read with another gain, whose read noise is another."""

    def effect(values: F64, rng: np.random.Generator) -> F64:
        more = read_dn * rng.standard_normal(values.shape)
        merged: F64 = np.where(values - BLACK_DN > above_dn, values + more, values)
        return merged

    return effect


def glowing(brightest_dn: float, width_px: float) -> Effect:
    """A corner that glows, the masked border with it, and its own shot noise."""

    def effect(values: F64, rng: np.random.Generator) -> F64:
        down, across = np.indices(values.shape)
        light = brightest_dn * np.exp(-np.hypot(down, across) / width_px)
        lit: F64 = values + light + rng.standard_normal(values.shape) * np.sqrt(GAIN * light)
        return lit

    return effect


def warmed(brightest_dn: float, gain: float, toward: str) -> Effect:
    """Warmth that grows down, or across, the whole sensor, with its own shot noise."""

    def effect(values: F64, rng: np.random.Generator) -> F64:
        climb = np.linspace(0.0, brightest_dn, values.shape[toward == "right"])
        warmth = climb[None, :] if toward == "right" else climb[:, None]
        lit: F64 = values + warmth + rng.standard_normal(values.shape) * np.sqrt(gain * warmth)
        return lit

    return effect


def without_peaks(values: F64, _: np.random.Generator) -> F64:
    """No pixel is brighter than its brightest neighbour: hot pixels filtered out, and stars."""
    for y in range(2):
        for x in range(2):
            own = values[y::2, x::2]
            near = np.pad(own, 1, mode="edge")
            beside = (near[:-2, 1:-1], near[2:, 1:-1], near[1:-1, :-2], near[1:-1, 2:])
            values[y::2, x::2] = np.minimum(own, np.maximum.reduce(beside))
    return values


NO_BLACK = BlackLevels(np.zeros((1, 1)))
