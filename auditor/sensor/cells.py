"""Sums and maxima over small square cells: four cells make a tile, one a pixel of the thumb."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from auditor.model.arrays import U16, U32
from auditor.sensor.lattice import SensorLattice, Stripe

WAITING = 16
"""Stripes whose reduced rows wait to be gathered."""


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


def no_cells(planes: int, height: int, width: int, cell_px: int) -> Cells:
    """Return cells that nothing was summed into yet."""
    shape = (planes, -(-height // cell_px), -(-width // cell_px))
    return Cells(cell_px, np.zeros(shape, np.uint32), np.zeros(shape, np.uint16))


class CellSummer:
    """Sums the stripes of one lattice into cells.

    Rows are reduced first: whole rows add up and compare at the speed of memory. What is left
    waits until there is enough of it to be gathered by columns in one go.

    Parameters
    ----------
    lattice : SensorLattice
    cells : Cells
        Where the results go, shared by the lattices of one mosaic.
    """

    def __init__(self, lattice: SensorLattice, cells: Cells) -> None:
        self._pattern = lattice.pattern
        self._cells = cells
        self._waiting: list[tuple[int, int, U16, U32]] = []

    def take(self, stripe: Stripe) -> int:
        """Sum a stripe; returns its largest DN."""
        cell_px, period = self._cells.cell_px, len(self._pattern)
        whole = stripe.bottom - (stripe.bottom - stripe.top) % cell_px
        top_dn = 0
        for start, stop in ((stripe.top, whole), (whole, stripe.bottom)):
            group = stripe.lattice.pixels[start:stop]
            for phase in range(min(period, stop - start)):
                tops, sums = _reduce_rows(group, phase, period, cell_px)
                top_dn = max(top_dn, int(tops.max()))
                self._waiting.append((phase, start // cell_px, tops, sums))
        if len(self._waiting) >= WAITING * period:
            self.finish()
        return top_dn

    def finish(self) -> None:
        """Gather what waits: join one column of all cells at a time."""
        cells, cell_px = self._cells, self._cells.cell_px
        for phase, planes in enumerate(self._pattern.tolist()):
            own = [part for part in self._waiting if part[0] == phase]
            if not own:
                continue
            tops = np.concatenate([part[2] for part in own])
            sums = np.concatenate([part[3] for part in own])
            rows = slice(own[0][1], own[0][1] + len(tops))
            for column in range(min(cell_px, tops.shape[1])):
                part = tops[:, column::cell_px]
                place = (planes[column % len(planes)], rows, slice(0, part.shape[1]))
                np.maximum(cells.tops[place], part, out=cells.tops[place])
                cells.sums[place] += sums[:, column::cell_px]
        self._waiting.clear()


def _reduce_rows(group: U16, phase: int, period: int, cell_px: int) -> tuple[U16, U32]:
    """Largest DN and sum over the rows of one phase in each cell, shape (cells, width).

    They are added in 16 bits for as long as nothing can overflow: twice as fast as in 32.
    """
    if len(group) < cell_px:
        rows = group[phase::period][None]
    else:
        split = group.reshape(-1, cell_px // period, period, group.shape[1])
        rows = split[:, :, phase]
    tops = rows.max(axis=1)
    at_once = max(1, 0xFFFF // max(1, int(tops.max())))
    if at_once == 1:
        return tops, rows.sum(axis=1, dtype=np.uint32)
    total = np.zeros(tops.shape, dtype=np.uint32)
    for start in range(0, rows.shape[1], at_once):
        total += rows[:, start : start + at_once].sum(axis=1, dtype=np.uint16)
    return tops, total
