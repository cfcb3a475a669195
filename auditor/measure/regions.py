"""Connected patches in a map of shares."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from auditor.model.arrays import F32

TOUCHING = np.ones((3, 3), dtype=np.int8)
"""Tiles that meet at a corner belong together."""


@dataclass(frozen=True, slots=True)
class RawPatch:
    """A connected patch, in shares of the map it was found in.

    Parameters
    ----------
    share : float
        Of the whole map.
    centre : (x, y)
        Centre of gravity, 0 to 1 from the left and from the top.
    box : (left, top, right, bottom)
        Outer edges of its tiles, 0 to 1.
    """

    share: float
    centre: tuple[float, float]
    box: tuple[float, float, float, float]


def largest_patch(share_map: F32, threshold: float) -> RawPatch | None:
    """Find the largest connected patch of tiles.

    Parameters
    ----------
    share_map : array of float32, shape (rows, cols)
        Share of each tile that counts.
    threshold : float
        A tile belongs to a patch from this share on.

    Returns
    -------
    RawPatch or None
        The patch with the largest sum of shares; None where no tile reaches the threshold.
    """
    flags = share_map >= threshold
    labels, count = ndimage.label(flags, structure=TOUCHING)
    if count == 0:
        return None
    weights = np.where(flags, share_map, 0.0).astype(np.float64)
    sums = np.bincount(labels.ravel(), weights=weights.ravel(), minlength=count + 1)
    sums[0] = -1.0
    return _patch(np.where(labels == int(sums.argmax()), weights, 0.0))


def _patch(weights: np.ndarray) -> RawPatch:
    rows, cols = weights.shape
    y, x = np.nonzero(weights)
    mass = weights[y, x]
    total = float(mass.sum())
    centre = (
        float(((x + 0.5) * mass).sum() / total / cols),
        float(((y + 0.5) * mass).sum() / total / rows),
    )
    box = (
        float(x.min() / cols),
        float(y.min() / rows),
        float((x.max() + 1) / cols),
        float((y.max() + 1) / rows),
    )
    return RawPatch(total / weights.size, centre, box)
