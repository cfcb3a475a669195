"""Sums and maxima over small square cells: four cells make a tile, one a pixel of the thumb."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import reduce
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from auditor.model.arrays import U16, U32
from auditor.sensor.lattice import SensorLattice, Stripe

Reduced: TypeAlias = NDArray[np.unsignedinteger]


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

    Rows are reduced first, then columns: whole rows add up and compare at the speed of memory.

    Parameters
    ----------
    lattice : SensorLattice
    cells : Cells
        Where the results go, shared by the lattices of one mosaic.
    """

    def __init__(self, lattice: SensorLattice, cells: Cells) -> None:
        self._pattern = lattice.pattern
        self._cells = cells

    def take(self, stripe: Stripe) -> int:
        """Sum a stripe; returns its largest DN."""
        cell_px, period = self._cells.cell_px, len(self._pattern)
        whole = stripe.bottom - (stripe.bottom - stripe.top) % cell_px
        over = stripe.bottom - (stripe.bottom - whole) % period  # the last cell's whole periods
        top_dn = 0
        for start, stop, rows in (
            (stripe.top, whole, cell_px),
            (whole, over, over - whole),
            (over, stripe.bottom, stripe.bottom - over),
        ):
            if start < stop:
                step = min(period, rows)
                group = stripe.lattice.pixels[start:stop]
                tops, sums = _reduce_rows(group.reshape(-1, rows // step, step, group.shape[1]))
                top_dn = max(top_dn, int(tops.max()))
                self._gather(start // cell_px, tops, sums)
        return top_dn

    def _gather(self, first: int, tops: U16, sums: U32) -> None:
        """Join the columns of each cell, and put them into its row."""
        cells, rows = self._cells, slice(first, first + len(tops))
        across = self._pattern.shape[1]
        all_tops = _highest_columns(tops, cells.cell_px, across)
        all_sums = _added_columns(sums, cells.cell_px, across)
        for x, (own_tops, own_sums) in enumerate(zip(all_tops, all_sums, strict=True)):
            for y in range(tops.shape[1]):
                plane = self._pattern[y, x]
                there = cells.tops[plane, rows]
                np.maximum(there, own_tops[:, y], out=there)
                cells.sums[plane, rows] += own_sums[:, y]


def _added_columns(sums: U32, cell_px: int, period: int) -> Iterator[U32]:
    """Add the columns of each cell that lie whole periods apart, from each of the first on.

    Where periods are even two columns are added as one number: neither half runs over.
    """
    runs: NDArray[np.unsignedinteger] = _whole_cells(sums, cell_px)
    pair = 2 - period % 2
    words = runs.view(np.uint64) if pair == 2 else runs
    for first in range(0, period, pair):
        columns = range(first // pair, cell_px // pair, period // pair)
        total = reduce(np.add, (words[..., column :: cell_px // pair] for column in columns))
        halves = np.ascontiguousarray(total).view(np.uint32)
        yield from (halves[..., place::pair] for place in range(pair))


def _whole_cells(rows: Reduced, cell_px: int) -> Reduced:
    """Pad rows with zeros to whole cells."""
    width = rows.shape[-1]
    whole = np.zeros((*rows.shape[:-1], -(-width // cell_px) * cell_px), rows.dtype)
    whole[..., :width] = rows
    return whole


def _highest_columns(tops: U16, cell_px: int, period: int) -> Iterator[Reduced]:
    """Likewise the largest.

    Whole rows are joined, with twice as many columns in a run each time: what is not wanted of
    that costs less than to pick single columns first.
    """
    runs = _whole_cells(tops, cell_px)
    count, done, pieces = cell_px // period, 0, []
    for power in range(count.bit_length()):
        if power:
            apart = period << power - 1
            runs = np.maximum(runs[..., :-apart], runs[..., apart:])
        if count >> power & 1:
            pieces.append(runs[..., done * period :])
            done += 1 << power
    for column in range(period):
        yield reduce(np.maximum, (piece[..., column::cell_px] for piece in pieces))


def _reduce_rows(rows: U16) -> tuple[U16, U32]:
    """Largest DN and sum over the second axis of (cells, rows, phases, width).

    They are added in 16 bits for as long as nothing can overflow: twice as fast as in 32.
    """
    tops = rows.max(axis=1)
    at_once = max(1, 0xFFFF // max(1, int(tops.max())))
    if at_once == 1:
        return tops, rows.sum(axis=1, dtype=np.uint32)
    total = rows[:, :at_once].sum(axis=1, dtype=np.uint16).astype(np.uint32)
    for start in range(at_once, rows.shape[1], at_once):
        total += rows[:, start : start + at_once].sum(axis=1, dtype=np.uint16)
    return tops, total
