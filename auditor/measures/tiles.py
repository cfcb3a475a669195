"""The picture in tiles: mean signal and largest value, from cells; shares come from ``over``."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from auditor.black.levels import PlaneBlack, black_sums_dn
from auditor.defects.hot_pixels import HotFound
from auditor.model.arrays import F32, U16
from auditor.sensor.cells import Cells
from auditor.sensor.lattice import SensorLattice

CELLS_PER_TILE = 2
"""Along each side."""

MEAN_BITS = 11
DETAIL_BITS = 9
"""Significant binary digits of the maps of means, and of detail."""

FINEST_EXPONENT = -6


def cell_signals_dn(
    cells: Cells, lattices: Sequence[SensorLattice], blacks: Sequence[PlaneBlack], hot: HotFound
) -> tuple[F32, F32]:
    """Return the summed signal and the count of pixels per cell.

    The black level of each pixel's own place is taken off; a hot pixel counts as what its
    same-coloured neighbours show.

    Returns
    -------
    sums, counts : array of float32, shape (planes, rows, cols)
    """
    sums = np.empty(cells.sums.shape, dtype=np.float32)
    counts = np.empty(cells.sums.shape, dtype=np.float32)
    for lattice in lattices:
        for plane in lattice.planes:
            black, counts[plane] = black_sums_dn(blacks[plane], lattice, plane, cells.cell_px)
            np.subtract(cells.sums[plane], black, out=sums[plane], casting="same_kind")
    rows, cols = hot.rows // cells.cell_px, hot.cols // cells.cell_px
    excess = (hot.value_dn - hot.neighbours_dn).astype(np.float32)
    np.subtract.at(sums, (hot.planes, rows, cols), excess)
    return sums, counts


def tile_means_dn(sums: F32, counts: F32) -> F32:
    """Return the mean signal per tile, shape (planes, rows, cols), as :func:`rounded`."""
    means = _pooled(sums) / np.maximum(_pooled(counts), np.float32(1.0))
    return rounded(means.astype(np.float32, copy=False), MEAN_BITS)


def rounded(values: F32, bits: int) -> F32:
    """Round to so many significant binary digits, and to steps of no less than 1/64.

    What is finer is noise, and takes most of the room in the store: to half of 2^-11 is 0.0004
    stops, where the noise of a tile's mean is a thousandth of it or more.
    """
    steps = np.exp2(np.maximum(np.frexp(values)[1] - bits, FINEST_EXPONENT))
    nearest: F32 = (np.round(values / steps) * steps).astype(np.float32)
    return nearest


def tile_tops_dn(tops: U16) -> U16:
    """Return the largest DN per tile, shape (planes, rows, cols)."""
    even: U16 = np.pad(tops, _to_even(tops.shape))
    rows = np.maximum(even[:, 0::2], even[:, 1::2])
    joined: U16 = np.maximum(rows[:, :, 0::2], rows[:, :, 1::2])
    return joined


def _pooled(values: F32) -> F32:
    even: F32 = np.pad(values, _to_even(values.shape))
    rows = even[:, 0::2] + even[:, 1::2]
    joined: F32 = rows[:, :, 0::2] + rows[:, :, 1::2]
    return joined


def _to_even(shape: tuple[int, ...]) -> tuple[tuple[int, int], ...]:
    """How much to pad for whole tiles."""
    return (0, 0), (0, shape[1] % 2), (0, shape[2] % 2)
