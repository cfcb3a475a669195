"""A plain neutral rendering of the raw data for the thumb: no taste, no local contrast.

Mean signal per cell, times the as-shot white balance, over the level from which the first
channel clips; then the tone curve of sRGB (IEC 61966-2-1). Middle tones lie where the exposure
put them, what is blown is white.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from auditor.model.arrays import F32, F64, U8
from auditor.model.mosaic import PLANE_NAMES, Layout

STEPS = 16384
"""Of the table that the tone curve is read from."""

SRGB_CURVE = {"toe": 0.0031308, "slope": 12.92, "scale": 1.055, "offset": 0.055, "power": 2.4}
"""The tone curve of the rendering (IEC 61966-2-1), for whoever reads tones back from it."""

CHANNELS = {"R": (0,), "G": (1,), "G1": (1,), "G2": (1,), "B": (2,), "L": (0, 1, 2)}
"""Channel of a picture that each plane belongs to."""


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
    factors = [white_balance.get(name, 1.0) for name in "RGB"]
    names = PLANE_NAMES[layout]
    own = [[i for i, name in enumerate(names) if c in CHANNELS[name]] for c in range(3)]
    white = min(
        factor * max(1.0, min(ranges_dn[plane] for plane in planes))
        for factor, planes in zip(factors, own, strict=True)
    )
    table = np.rint(255.0 * srgb_curve(np.arange(STEPS + 1) / STEPS)).astype(np.uint8)
    picture = np.empty((*signals_dn.shape[1:], 3), dtype=np.uint8)
    for channel, planes in enumerate(own):
        scale = np.float32(STEPS * factors[channel] / white / len(planes))
        signal = sum((signals_dn[plane] for plane in planes[1:]), signals_dn[planes[0]])
        steps = np.clip(signal * scale, 0.0, STEPS).astype(np.int16)
        picture[..., channel] = table[steps]
    return picture


def srgb_curve(linear: F64) -> F64:
    """Return the sRGB code (0 to 1) of linear values, cut to 0 to 1 (IEC 61966-2-1)."""
    cut = np.clip(linear, 0.0, 1.0)
    toe, slope, scale, offset, power = SRGB_CURVE.values()
    curve: F64 = np.where(cut <= toe, slope * cut, scale * cut ** (1 / power) - offset)
    return curve
