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
    picture = np.zeros((*signals_dn.shape[1:], 3), dtype=np.float64)
    planes = np.zeros(3)
    ceiling = np.full(3, np.inf)
    for signal, name, range_dn in zip(signals_dn, PLANE_NAMES[layout], ranges_dn, strict=True):
        for channel in CHANNELS[name]:
            picture[..., channel] += signal
            planes[channel] += 1
            ceiling[channel] = min(ceiling[channel], max(1.0, range_dn))
    factors = np.array([white_balance.get(name, 1.0) for name in "RGB"])
    balanced = picture / planes * factors
    white = float((ceiling * factors).min())
    codes: U8 = np.rint(255.0 * srgb_curve(balanced / white)).astype(np.uint8)
    return codes


def srgb_curve(linear: F64) -> F64:
    """Return the sRGB code (0 to 1) of linear values, cut to 0 to 1 (IEC 61966-2-1)."""
    cut = np.clip(linear, 0.0, 1.0)
    curve: F64 = np.where(cut <= 0.0031308, 12.92 * cut, 1.055 * cut ** (1 / 2.4) - 0.055)
    return curve
