"""Sums and maxima over small square cells: four cells make a tile, one a pixel of the thumb."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from auditor.measure.sheets import Stripe
from auditor.model.arrays import U16, U32


@dataclass(frozen=True, slots=True, eq=False)
class Cells:
    """Raw sums and maxima, black not subtracted.

    Parameters
    ----------
    cell_px : int
        Side of a cell; the last row and column of cells may cover less.
    sums : array of uint32, shape (planes, rows, cols)
    tops : array of uint16, shape (planes, rows, cols)
        Largest DN.
    """

    cell_px: int
    sums: U32
    tops: U16


class CellSummer:
    """Sums stripes into cells.

    Rows are reduced first: whole rows add up and compare at the speed of memory, and what is
    left to be gathered by columns is small.
    """

    def __init__(self, planes: int, height: int, width: int, cell_px: int) -> None:
        shape = (planes, -(-height // cell_px), -(-width // cell_px))
        self._cell_px = cell_px
        self._sums = np.zeros(shape, dtype=np.uint32)
        self._tops = np.zeros(shape, dtype=np.uint16)
        self._size = (height, width)

    def take(self, stripe: Stripe) -> int:
        """Sum a stripe; returns its largest DN."""
        rows, pattern = stripe.pixels, stripe.sheet.pattern
        top_dn = 0
        for start, stop in self._row_groups(stripe, len(pattern)):
            group = rows[start - stripe.top : stop - stripe.top]
            for phase in range(min(len(pattern), self._cell_px, stop - start)):
                tops, sums = _reduce_rows(group, phase, len(pattern), self._cell_px)
                top_dn = max(top_dn, int(tops.max()))
                self._gather(pattern[phase], start // self._cell_px, tops, sums)
        return top_dn

    def finish(self) -> Cells:
        """Return the cells."""
        return Cells(self._cell_px, self._sums, self._tops)

    def _row_groups(self, stripe: Stripe, rows: int) -> list[tuple[int, int]]:
        """Split a stripe into its whole cells and the part of a cell at the picture's end."""
        whole = stripe.bottom - (stripe.bottom - stripe.top) % self._cell_px
        groups = [(stripe.top, whole), (whole, stripe.bottom)]
        return [(start, stop) for start, stop in groups if stop > start]

    def _gather(self, row_planes: NDArray[np.uint8], first: int, tops: U16, sums: U32) -> None:
        columns, width = len(row_planes), self._size[1]
        place = slice(first, first + len(tops))
        for column in range(min(columns, width)):
            plane = int(row_planes[column])
            starts = np.arange(0, len(range(column, width, columns)), self._cell_px // columns)
            part = np.s_[place, : len(starts)]
            found = np.maximum.reduceat(tops[:, column::columns], starts, axis=1)
            np.maximum(self._tops[plane][part], found, out=self._tops[plane][part])
            self._sums[plane][part] += np.add.reduceat(sums[:, column::columns], starts, axis=1)


def _reduce_rows(group: U16, phase: int, period: int, cell_px: int) -> tuple[U16, U32]:
    """Largest DN and sum over the rows of one phase in each cell, shape (cells, width)."""
    if len(group) < cell_px:
        rows = group[phase::period][None]
    else:
        split = group.reshape(-1, cell_px // period, period, group.shape[1])
        rows = split[:, :, phase]
    tops = rows.max(axis=1)
    return tops, _sum_rows(rows, int(tops.max()))


def _sum_rows(rows: U16, top_dn: int) -> U32:
    """Add rows, in 16 bits for as long as nothing can overflow: twice as fast as in 32."""
    at_once = max(1, 0xFFFF // max(1, top_dn))
    if at_once == 1:
        whole: U32 = rows.sum(axis=1, dtype=np.uint32)
        return whole
    total = np.zeros((rows.shape[0], rows.shape[2]), dtype=np.uint32)
    for start in range(0, rows.shape[1], at_once):
        total += rows[:, start : start + at_once].sum(axis=1, dtype=np.uint16)
    return total
