"""Where a sensor's response bends over before it clips: its noise falls under that of light.

A response of slope ``m`` at a level makes ``m²`` of the variance that light has there. Texture
only adds, so noise well under the photon-transfer relation of the darker levels, from some level
on up to the top, is a bend and nothing else (EMVA 1288: variance falls where saturation begins).
"""

from __future__ import annotations

import numpy as np

from auditor.model.arrays import F64
from auditor.noise.blocks import Blocks
from auditor.noise.limits import (
    BEND_BEGINS,
    BEND_CALM,
    BEND_FALL,
    BEND_LEAST_BLOCKS,
    BEND_SURE,
    BEND_WINDOWS,
)
from auditor.noise.photon_transfer import TransferFit


def bend_dn(blocks: Blocks, fit: TransferFit, top_dn: float) -> float | None:
    """Return the signal from which the response bends, or None where it does not, or nothing tells.

    Parameters
    ----------
    blocks : Blocks
    fit : TransferFit
        The noise of light, from the darker levels.
    top_dn : float
        The highest signal of the plane, black subtracted.
    """
    if top_dn <= 0:
        return None
    # windows of level, as shares of the highest signal; above them the top may be clipped
    step, lowest, highest = 0.02, 0.5, 0.98
    edges = np.arange(lowest, highest + step / 2, step) * top_dn
    signal = blocks.signal_dn.astype(np.float64)
    model = fit.variance_dn2(signal)
    sigmas_under_top = 5.0  # nearer to it the top cuts the noise itself
    free = signal + sigmas_under_top * np.sqrt(np.maximum(model, 0.0)) <= highest * top_dn
    kept = free & (signal >= edges[0]) & (blocks.texture_variance_dn2 <= BEND_CALM * model)
    window = np.searchsorted(edges, signal[kept], side="right") - 1
    count = np.bincount(window, minlength=len(edges))
    total = np.bincount(window, (blocks.noise_dn2[kept] / model[kept]), minlength=len(edges))
    told = count >= BEND_LEAST_BLOCKS
    ratio: F64 = np.where(told, total / np.maximum(count, 1), np.nan)
    error = np.sqrt(2.0 / np.maximum(count * blocks.degrees_of_freedom, 1.0))
    fallen = told & (ratio <= BEND_FALL) & (1.0 - ratio >= BEND_SURE * error)
    places = np.flatnonzero(told)
    if np.count_nonzero(fallen) < BEND_WINDOWS or not fallen[places[-int(BEND_WINDOWS) :]].all():
        return None
    straight = places[~(ratio[places] < BEND_BEGINS)]
    return float(edges[straight[-1] + 1]) if len(straight) else None
