"""A whole mosaic as a small colour picture: square cells of pixels straight to its codes.

A cell holds every colour, and its colours are the means of its pixels, so nothing need be made
up between them. Means are taken of the linear data.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from auditor.model.arrays import I64, U8, U16
from auditor.model.mosaic import Layout
from auditor.pictures.render import Rendering, planes_by_channel, srgb_curve
from auditor.sensor.lattice import SensorLattice

LEAST_CELL_PX = {Layout.BAYER: 2, Layout.XTRANS: 3, Layout.MONO: 1, Layout.LINEAR: 1}
"""The smallest square that holds every colour, wherever in the pattern it lies."""

STRIPE_ROWS = 48
"""Rows worked on at a time: their sums fit a core's own cache."""

_MOST = 0xFFFF


def cell_side_px(layout: Layout, longest_px: int, wanted_px: int) -> int:
    """Return the side of a cell so that a picture is no smaller than wanted, where it can be."""
    least = LEAST_CELL_PX[layout]
    return least * max(1, longest_px // (wanted_px * least))


def shrink(rendering: Rendering, cell_px: int, top_dn: int) -> list[U8]:
    """Return red, green and blue of a picture of one pixel a cell, in codes of sRGB.

    Parameters
    ----------
    cell_px : int
        Of :func:`cell_side_px`; what is left over at the right and below is not shown.
    top_dn : int
        No pixel is above it.

    Returns
    -------
    list of three arrays of uint8, shape (rows, cols)
    """
    levels: dict[int, tuple[U16, float]] = {}
    for lattice in rendering.lattices:
        levels |= _levels(lattice, cell_px, max(1, top_dn))
    channels = []
    for planes, white_dn in zip(
        planes_by_channel(rendering.layout), rendering.whites_dn, strict=True
    ):
        black_dn = sum(rendering.blacks_dn[plane] for plane in planes) / len(planes)
        mean, level_dn = _joined([levels[plane] for plane in planes])
        signals_dn = np.arange(int(mean.max()) + 1, dtype=np.float64) * level_dn - black_dn
        table = np.rint(255.0 * srgb_curve(signals_dn / white_dn)).astype(np.uint8)
        channels.append(table[mean])
    return channels


def _joined(greens: list[tuple[U16, float]]) -> tuple[U16, float]:
    """Return the mean of one plane or of two that are alike, and what one of its levels means."""
    (first, level_dn), *others = greens
    if not others:
        return first, level_dn
    second, _ = others[0]
    mean: U16 = (first >> 1) + (second >> 1)
    return mean, level_dn


def _levels(lattice: SensorLattice, cell_px: int, top_dn: int) -> dict[int, tuple[U16, float]]:
    """Return of each plane the mean of every cell in levels, and how many DN a level is."""
    counts = _counts(lattice, cell_px)
    most = max(int(count.max()) for count in counts.values())
    fits = most * top_dn <= _MOST
    sums = _sums(lattice, cell_px, np.dtype(np.uint16 if fits else np.uint32))
    levels = {}
    for plane, total in sums.items():
        count = counts[plane]
        if fits and count.size == 1:
            levels[plane] = total.astype(np.uint16, copy=False), 1.0 / int(count[0, 0])
        else:
            level_dn = top_dn / _MOST
            tiled = np.tile(1.0 / (count * level_dn), -(-np.array(total.shape) // count.shape))
            means = total * tiled[: total.shape[0], : total.shape[1]].astype(np.float32)
            levels[plane] = np.minimum(means, _MOST).astype(np.uint16), level_dn
    return levels


def _counts(lattice: SensorLattice, cell_px: int) -> dict[int, I64]:
    """Count the pixels of each plane in a cell, for each cell of a block that repeats."""
    tall, wide = (int(np.lcm(cell_px, side)) for side in lattice.pattern.shape)
    rows, cols = lattice.pattern.shape
    block = np.tile(lattice.pattern, (tall // rows, wide // cols))
    cells = block.reshape(tall // cell_px, cell_px, wide // cell_px, cell_px)
    return {plane: (cells == plane).sum(axis=(1, 3)) for plane in lattice.planes}


def _sums(lattice: SensorLattice, cell_px: int, dtype: np.dtype[Any]) -> dict[int, NDArray[Any]]:
    """Sum the pixels of each plane in every whole cell.

    Rows are added first, which memory does at its own speed; then one column of all cells at a
    time.
    """
    pattern, period = lattice.pattern, len(lattice.pattern)
    rows, cols = (side // cell_px for side in lattice.pixels.shape)
    tall, wide = (int(np.lcm(cell_px, side)) for side in pattern.shape)
    sums = {plane: np.zeros((rows, cols), dtype) for plane in lattice.planes}
    step = max(1, STRIPE_ROWS // tall) * tall
    for top in range(0, rows * cell_px, step):
        stripe = lattice.pixels[top : min(top + step, rows * cell_px), : cols * cell_px]
        first = top // cell_px
        for start in range(0, min(tall, len(stripe)), cell_px):
            own = slice(first + start // cell_px, first + len(stripe) // cell_px, tall // cell_px)
            for phase in range(min(period, cell_px)):
                alike = range(start + phase, start + cell_px, period)
                line = stripe[alike[0] :: tall].astype(dtype, copy=len(alike) > 1)
                for y in alike[1:]:
                    line += stripe[y::tall]
                planes = pattern[alike[0] % period]
                for x in range(wide):
                    target = sums[int(planes[x % len(planes)])][
                        own, x // cell_px :: wide // cell_px
                    ]
                    target += line[:, x::wide]
    return sums
