"""A plain neutral rendering of the raw data for the thumb: no taste, no local contrast.

Mean signal per cell, times the as-shot white balance, over the level from which the first
channel clips; then the tone curve of sRGB (IEC 61966-2-1). Middle tones lie where the exposure
put them, what is blown is white.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np

from auditor.model.arrays import F32, F64, U8
from auditor.model.codes import Layout
from auditor.model.mosaic import PLANE_NAMES
from auditor.sensor.lattice import SensorLattice

STEPS = 16384
"""Of the table that the tone curve is read from."""

SRGB_CURVE = {"toe": 0.0031308, "slope": 12.92, "scale": 1.055, "offset": 0.055, "power": 2.4}
"""The tone curve of the rendering (IEC 61966-2-1), for whoever reads tones back from it."""

CHANNELS = {"R": (0,), "G": (1,), "G1": (1,), "G2": (1,), "B": (2,), "L": (0, 1, 2)}
"""Channel of a picture that each plane belongs to."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rendering:
    """How the pixels of a mosaic become colours.

    Parameters
    ----------
    lattices : sequence of SensorLattice
    blacks_dn : sequence of float
        Mean black of each plane.
    whites_dn : sequence of float
        Of :func:`whites_dn`.
    """

    layout: Layout
    lattices: Sequence[SensorLattice]
    blacks_dn: Sequence[float]
    whites_dn: Sequence[float]


def render_cells(
    signals_dn: F32, layout: Layout, ranges_dn: Sequence[float], white_balance: Mapping[str, float]
) -> U8:
    """Render mean signals.

    Parameters
    ----------
    signals_dn : array of float32, shape (planes, rows, cols)
    ranges_dn : sequence of float
        Clipping level over black, per plane.
    white_balance : mapping
        As-shot multipliers by "R", "G", "B", green 1; empty where unknown.

    Returns
    -------
    array of uint8, shape (rows, cols, 3)
    """
    own = planes_by_channel(layout)
    picture = np.empty((*signals_dn.shape[1:], 3), dtype=np.uint8)
    for channel, white_dn in enumerate(whites_dn(layout, ranges_dn, white_balance)):
        planes = own[channel]
        signal = sum((signals_dn[plane] for plane in planes[1:]), signals_dn[planes[0]])
        picture[..., channel] = codes_of(signal, white_dn * len(planes))
    return picture


def codes_of(signal_dn: F32, white_dn: float) -> U8:
    """Return the codes of signals, given the one that is drawn as white."""
    scale = np.float32(STEPS / white_dn)
    steps = np.clip(signal_dn * scale, 0.0, STEPS).astype(np.int16)
    codes: U8 = np.take(_table(), steps, mode="clip")
    return codes


@cache
def _table() -> U8:
    return np.rint(255.0 * srgb_curve(np.arange(STEPS + 1) / STEPS)).astype(np.uint8)


def planes_by_channel(layout: Layout) -> list[list[int]]:
    """Return which planes make red, green and blue of a picture."""
    names = PLANE_NAMES[layout]
    return [[i for i, name in enumerate(names) if c in CHANNELS[name]] for c in range(3)]


def whites_dn(
    layout: Layout, ranges_dn: Sequence[float], white_balance: Mapping[str, float]
) -> list[float]:
    """Return from which signal on red, green and blue are drawn as white.

    Parameters
    ----------
    ranges_dn, white_balance
        As :func:`render_cells` takes them.
    """
    factors = [white_balance.get(name, 1.0) for name in "RGB"]
    white = min(
        factor * max(1.0, min(ranges_dn[plane] for plane in planes))
        for factor, planes in zip(factors, planes_by_channel(layout), strict=True)
    )
    return [white / factor for factor in factors]


def srgb_curve(linear: F64) -> F64:
    """Return the sRGB code (0 to 1) of linear values, cut to 0 to 1 (IEC 61966-2-1)."""
    cut = np.clip(linear, 0.0, 1.0)
    toe, slope, scale, offset, power = SRGB_CURVE.values()
    curve: F64 = np.where(cut <= toe, slope * cut, scale * cut ** (1 / power) - offset)
    return curve
