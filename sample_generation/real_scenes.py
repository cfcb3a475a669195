"""Light of real scenes, frozen as small arrays (sources in tests/data/README.md)."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from scipy import ndimage

from auditor.model.arrays import F32

MIDDLE_E_S = 6.0e6
"""Electrons a second at f/1 that the median of a scene is scaled to."""


def real_radiance(path: Path, size: tuple[int, int]) -> F32:
    """Read a scene and bring it to a picture's size.

    Parameters
    ----------
    path : Path
        A .npz file with the array ``rgb``, shape (rows, cols, 3), linear light of no unit.
    size : tuple of int
        Width and height wanted; the scene is resized linearly, its middle band kept.

    Returns
    -------
    array of float32, shape (height, width, 3)
        Electrons a second at f/1, the green median at :data:`MIDDLE_E_S`; none under 0.
    """
    with np.load(path) as stored:
        scene = np.clip(stored["rgb"].astype(np.float32), 0.0, None)
    width, height = size
    high, wide = scene.shape[:2]
    rows = min(high, round(wide * height / width))
    cols = min(wide, round(high * width / height))
    top, left = (high - rows) // 2, (wide - cols) // 2
    band = scene[top : top + rows, left : left + cols]
    zoom = (height / rows, width / cols, 1.0)
    full = ndimage.zoom(band, zoom, order=1, mode="nearest", grid_mode=True)
    return np.asarray(full * (MIDDLE_E_S / float(np.median(full[..., 1]))), dtype=np.float32)
