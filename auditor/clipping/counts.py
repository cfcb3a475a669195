"""Shares of each tile at or above the cut, plane by plane, in any plane and in all of them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import reduce

import numpy as np

from auditor.model.arrays import F32, F64, U16, Bool
from auditor.sensor.lattice import SensorLattice, lattice_counts, pixels_per_cell

LARGEST_DN = 0xFFFF


@dataclass(frozen=True, slots=True, eq=False)
class OverShares:
    """Shares per tile.

    Parameters
    ----------
    planes : array of float32, shape (planes, rows, cols)
        Share of the plane's pixels.
    any_plane, every_plane : array of float32, shape (rows, cols)
        Share of the pattern's cells in which a pixel of any plane, and of every plane, is over.
    """

    planes: F32
    any_plane: F32
    every_plane: F32


@dataclass(frozen=True, slots=True)
class _Run:
    """Adjoining tiles of one row of tiles."""

    row: int
    first: int
    last: int


def over_shares(
    lattices: Sequence[SensorLattice],
    tops_dn: U16,
    clip_thresholds_dn: Sequence[float],
    tile_px: int,
) -> OverShares:
    """Count what lies at or above each plane's cut; only tiles that reach it are looked at."""
    limits = np.array([min(LARGEST_DN + 1.0, np.ceil(cut)) for cut in clip_thresholds_dn])
    touched: Bool = np.logical_or.reduce(tops_dn >= limits[:, None, None])
    planes, some, every = np.zeros(tops_dn.shape), np.zeros(touched.shape), np.zeros(touched.shape)
    # of each row of the pattern over the whole width
    lines = [
        own[:, np.arange(lattice.pixels.shape[1]) % own.shape[1]]
        for lattice in lattices
        for own in [np.minimum(limits[lattice.pattern], LARGEST_DN).astype(np.uint16)]
    ]
    for run in _runs(touched):
        place = np.s_[run.row, run.first : run.last + 1]
        cells: list[tuple[Bool, Bool]] = []
        for lattice, limit_dn in zip(lattices, lines, strict=True):
            over = _over_pixels(lattice, run, limit_dn, tile_px)
            cells.append(_over_cells(lattice, over))
            _add_planes(lattice, over, tile_px, planes[(slice(None), *place)])
        columns = tile_px // lattices[0].pattern.shape[1]
        _add_cells(reduce(np.logical_or, (own for own, _ in cells)), columns, some[place])
        _add_cells(reduce(np.logical_and, (own for _, own in cells)), columns, every[place])
    (height, width), (rows, cols) = lattices[0].pixels.shape, lattices[0].pattern.shape
    down = lattice_counts(height, tile_px, rows - 1, rows)
    across = lattice_counts(width, tile_px, cols - 1, cols)
    whole = np.maximum(np.outer(down, across), 1)  # cells of the pattern in each tile
    pixels = np.zeros(tops_dn.shape, dtype=np.int64)
    for lattice in lattices:
        for plane in lattice.planes:
            pixels[plane] = pixels_per_cell(lattice, plane, tile_px)
    return OverShares(
        (planes / np.maximum(pixels, 1)).astype(np.float32),
        (some / whole).astype(np.float32),
        (every / whole).astype(np.float32),
    )


def _runs(touched: Bool) -> Iterator[_Run]:
    gap_tiles = 16  # touched tiles closer than this are worked on together: a call takes as long
    for row in np.flatnonzero(touched.any(axis=1)):
        tiles = np.flatnonzero(touched[row])
        breaks = np.flatnonzero(np.diff(tiles) > gap_tiles) + 1
        for group in np.split(tiles, breaks):
            yield _Run(int(row), int(group[0]), int(group[-1]))


def _over_pixels(lattice: SensorLattice, run: _Run, limit_dn: U16, tile_px: int) -> Bool:
    """Flag the pixels of a run that lie at or above their plane's limit."""
    rows = slice(run.row * tile_px, (run.row + 1) * tile_px)
    cols = slice(run.first * tile_px, (run.last + 1) * tile_px)
    block = lattice.pixels[rows, cols]
    over = np.empty(block.shape, dtype=np.bool_)
    period = len(limit_dn)
    for y in range(period):
        np.greater_equal(block[y::period], limit_dn[y, cols], out=over[y::period])
    return over


def _over_cells(lattice: SensorLattice, over: Bool) -> tuple[Bool, Bool]:
    """Tell for each whole pattern cell whether some plane, and every plane, is over in it."""
    rows, cols = lattice.pattern.shape
    whole = over[: over.shape[0] // rows * rows, : over.shape[1] // cols * cols]
    # whole rows first: that is much faster than to pick single columns
    down = [whole[y::rows] for y in range(rows)]
    some = _joined_columns(np.logical_or, reduce(np.logical_or, down), cols)
    if lattice.pattern.size == len(lattice.planes):
        return some, _joined_columns(np.logical_and, reduce(np.logical_and, down), cols)
    planes = [
        reduce(np.logical_or, [down[y][:, x::cols] for y, x in lattice.places(plane)])
        for plane in lattice.planes
    ]
    return some, reduce(np.logical_and, planes)


def _joined_columns(join: np.ufunc, rows: Bool, cols: int) -> Bool:
    """Join the columns of each pattern cell."""
    joined: Bool = reduce(join, [rows[:, x::cols] for x in range(cols)])
    return joined


def _add_planes(lattice: SensorLattice, over: Bool, tile_px: int, counts: F64) -> None:
    """Add the pixels over to the counts of a run, shape (planes, tiles)."""
    rows, cols = lattice.pattern.shape
    for y in range(min(rows, len(over))):
        down = _down_sums(over[y::rows])
        for x in range(min(cols, len(down))):
            part = down[x::cols]
            starts = np.arange(0, len(part), tile_px // cols)
            counts[lattice.pattern[y, x], : len(starts)] += np.add.reduceat(part, starts)


def _add_cells(flags: Bool, columns: int, counts: F64) -> None:
    """Add flagged cells to the counts of a run's tiles; its last may hold no whole cell."""
    starts = np.arange(0, flags.shape[1], columns)
    if len(starts):
        counts[: len(starts)] += np.add.reduceat(_down_sums(flags), starts)


def _down_sums(flags: Bool) -> F64:
    """Count over all rows."""
    kind = np.uint8 if len(flags) <= 0xFF else np.uint32
    sums: F64 = flags.view(np.uint8).sum(axis=0, dtype=kind).astype(np.float64)
    return sums
