"""Connected patches in a map of shares."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from auditor.model.arrays import F32, F64, Bool

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


def largest_patch(
    share_map: F32 | Bool, threshold: float, area: F64 | None = None
) -> RawPatch | None:
    """Find the largest connected patch of tiles, with what lies in the tiles right around it.

    A patch ends within tiles: those at its rim are partly covered, and left out they would make
    every patch too small, a small one by a third.

    Parameters
    ----------
    share_map : array of float32, shape (rows, cols)
        Share of each tile that counts.
    threshold : float
        A tile is of the core of a patch from this share on.
    area : array of float64, shape (rows, cols), optional
        Share of the map that each tile covers; alike by default.

    Returns
    -------
    RawPatch or None
        The patch whose core holds most; None where no tile reaches the threshold.
    """
    shares = np.asarray(share_map, dtype=np.float64)
    weights = shares / shares.size if area is None else shares * area
    core = shares >= threshold
    if not core.any():
        return None
    from scipy import ndimage  # noqa: PLC0415 - slow to load, and many frames have no patch

    labels, count = ndimage.label(core, structure=TOUCHING)
    if count == 0:
        return None
    sums = np.bincount(labels.ravel(), weights=weights.ravel(), minlength=count + 1)
    sums[0] = -1.0
    own = labels == int(sums.argmax())
    rim = ndimage.binary_dilation(own, structure=TOUCHING) & ~core
    return _patch(np.where(own | rim, weights, 0.0))


def _patch(weights: F64) -> RawPatch:
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
    return RawPatch(total, centre, box)
