"""A whole mosaic as a small colour picture: square cells of pixels straight to its codes.

A cell holds every colour, and its colours are the means of its pixels, so nothing need be made
up between them. Means are taken of the linear data.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from auditor.model.arrays import I64, U8, U16
from auditor.model.codes import Layout
from auditor.pictures.render import Rendering, codes_of, planes_by_channel
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
    height, width = (side // cell_px for side in rendering.lattices[0].pixels.shape)
    by_channel = planes_by_channel(rendering.layout)
    channels = [np.empty((height, width), dtype=np.uint8) for _ in by_channel]
    for lattice in rendering.lattices:
        scale = _Scale.of(lattice, cell_px, max(1, top_dn))
        own = [index for index, planes in enumerate(by_channel) if planes[0] in lattice.planes]
        tables = {}  # of every level of a channel its code of sRGB
        for index in own:
            planes = by_channel[index]
            black_dn = sum(rendering.blacks_dn[plane] for plane in planes) / len(planes)
            steps = np.arange(_MOST + 1, dtype=np.float32)
            signals_dn = (steps * scale.level_dn(planes[0]) - black_dn).astype(np.float32)
            tables[index] = codes_of(signals_dn, rendering.whites_dn[index])
        for first, sums in _sums(lattice, cell_px, scale.dtype):
            levels = {plane: scale.levels(plane, total) for plane, total in sums.items()}
            for index in own:
                mean, *others = (levels[plane] for plane in by_channel[index])
                if others:  # two greens are alike
                    mean = (mean >> 1) + (others[0] >> 1)
                rows = channels[index][first : first + len(mean)]
                np.take(tables[index], mean.astype(np.intp), out=rows, mode="clip")
    return channels


@dataclass(frozen=True, slots=True, eq=False)
class _Scale:
    """How the sum of a cell becomes a level of 16 bits.

    Parameters
    ----------
    counts : mapping of plane to array of int64
        Pixels of the plane in each cell of a block that repeats.
    fits : bool
        Whether no sum needs more bits.
    top_dn : int
        No pixel is above it.
    """

    counts: Mapping[int, I64]
    fits: bool
    top_dn: int

    @classmethod
    def of(cls, lattice: SensorLattice, cell_px: int, top_dn: int) -> _Scale:
        """Count the pixels of each plane in a cell, for each cell of a block that repeats."""
        rows, cols = lattice.pattern.shape
        tall, wide = int(np.lcm(cell_px, rows)), int(np.lcm(cell_px, cols))
        block = np.tile(lattice.pattern, (tall // rows, wide // cols))
        cells = block.reshape(tall // cell_px, cell_px, wide // cell_px, cell_px)
        counts = {plane: (cells == plane).sum(axis=(1, 3)) for plane in lattice.planes}
        most = max(int(count.max()) for count in counts.values())
        return cls(counts, most * top_dn <= _MOST, top_dn)

    @property
    def dtype(self) -> np.dtype[Any]:
        """The kind of number that holds every sum."""
        return np.dtype(np.uint16 if self.fits else np.uint32)

    def _are_levels(self, plane: int) -> bool:
        return self.fits and self.counts[plane].size == 1

    def level_dn(self, plane: int) -> float:
        """Return how many DN a level of a plane is."""
        return 1.0 / int(self.counts[plane][0, 0]) if self._are_levels(plane) else self._step_dn

    @property
    def _step_dn(self) -> float:
        return self.top_dn / _MOST

    def levels(self, plane: int, sums: NDArray[Any]) -> U16:
        """Return the mean of each cell as a level."""
        if self._are_levels(plane):
            return sums.astype(np.uint16, copy=False)
        count = self.counts[plane]
        tiled = np.tile(1.0 / (count * self._step_dn), -(-np.array(sums.shape) // count.shape))
        means = sums * tiled[: sums.shape[0], : sums.shape[1]].astype(np.float32)
        levels: U16 = np.minimum(means, _MOST).astype(np.uint16)
        return levels


def _sums(
    lattice: SensorLattice, cell_px: int, dtype: np.dtype[Any]
) -> Iterator[tuple[int, dict[int, NDArray[Any]]]]:
    """Sum the pixels of each plane in every whole cell, stripe by stripe.

    Rows are added first, which memory does at its own speed; then one column of all cells at a
    time.

    Yields
    ------
    first : int
        Row of cells with which the stripe begins: a multiple of the block that repeats.
    sums : dict
        Plane to sums, shape (rows of cells, columns of cells).
    """
    pattern, period = lattice.pattern, len(lattice.pattern)
    rows, cols = (side // cell_px for side in lattice.pixels.shape)
    tall, wide = (int(np.lcm(cell_px, side)) for side in pattern.shape)
    whole, step = tall == wide == cell_px, max(1, STRIPE_ROWS // tall) * tall
    for top in range(0, rows * cell_px, step):
        stripe = lattice.pixels[top : min(top + step, rows * cell_px), : cols * cell_px]
        sums: dict[int, NDArray[Any]] = {}
        if not whole:
            shape = len(stripe) // cell_px, cols
            sums = {plane: np.zeros(shape, dtype) for plane in lattice.planes}
        for start in range(0, min(tall, len(stripe)), cell_px):
            own = slice(start // cell_px, None, tall // cell_px)
            for phase in range(min(period, cell_px)):
                alike = range(start + phase, start + cell_px, period)
                line = stripe[alike[0] :: tall].astype(dtype, copy=len(alike) > 1)
                for y in alike[1:]:
                    line += stripe[y::tall]
                planes = pattern[alike[0] % period].tolist()
                if whole:
                    _add_whole(line, planes, cell_px, sums)
                    continue
                for x in range(wide):
                    target = sums[planes[x % len(planes)]][own, x // cell_px :: wide // cell_px]
                    target += line[:, x::wide]
        yield top // cell_px, sums


def _add_whole(
    line: NDArray[Any], planes: Sequence[int], cell_px: int, sums: dict[int, NDArray[Any]]
) -> None:
    """Add a line to the sums of cells of whole patterns: neighbours first, at memory's speed."""
    period = len(planes)
    joined = line[:, : line.shape[1] - cell_px + period]
    for x in range(period, cell_px, period):
        joined = joined + line[:, x : x + joined.shape[1]]
    for x, plane in enumerate(planes):
        part = joined[:, x::cell_px]
        sums[plane] = sums[plane] + part if plane in sums else part
