"""Shares of each tile at or above the cut, plane by plane, in any plane and in all of them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from auditor.measure.sheets import Sheet
from auditor.model.arrays import F32, F64, U16, Bool

LARGEST_DN = 0xFFFF
GAP_TILES = 4
"""Touched tiles closer than this are worked on together."""


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
    sheets: Sequence[Sheet], tops_dn: U16, cuts_dn: Sequence[float], tile_px: int
) -> OverShares:
    """Count what lies at or above each plane's cut; only tiles that reach it are looked at."""
    limits = [min(float(LARGEST_DN + 1), np.ceil(cut)) for cut in cuts_dn]
    touched: Bool = np.logical_or.reduce(tops_dn >= np.array(limits)[:, None, None])
    planes = np.zeros(tops_dn.shape, dtype=np.float32)
    some = np.zeros(touched.shape, dtype=np.float32)
    every = np.zeros(touched.shape, dtype=np.float32)
    for run in _runs(touched):
        place = np.s_[run.row, run.first : run.last + 1]
        cells = _over_cells(sheets, run, limits, tile_px, planes)
        some[place] = _share(np.logical_or.reduce(cells), tile_px, sheets[0])
        every[place] = _share(np.logical_and.reduce(cells), tile_px, sheets[0])
    return OverShares(planes, some, every)


def _runs(touched: Bool) -> Iterator[_Run]:
    for row in np.flatnonzero(touched.any(axis=1)):
        tiles = np.flatnonzero(touched[row])
        breaks = np.flatnonzero(np.diff(tiles) > GAP_TILES) + 1
        for group in np.split(tiles, breaks):
            yield _Run(int(row), int(group[0]), int(group[-1]))


def _over_cells(
    sheets: Sequence[Sheet], run: _Run, limits: Sequence[float], tile_px: int, shares: F32
) -> list[Bool]:
    """Tell for each whole pattern cell of a run whether each plane is over in it.

    The share of each plane's pixels goes into ``shares``.
    """
    found: dict[int, Bool] = {}
    for sheet in sheets:
        block = sheet.pixels[
            run.row * tile_px : (run.row + 1) * tile_px,
            run.first * tile_px : (run.last + 1) * tile_px,
        ]
        rows, cols = sheet.pattern.shape
        high, wide = block.shape[0] // rows, block.shape[1] // cols
        for plane in sheet.planes:
            limit = np.uint16(min(limits[plane], LARGEST_DN))
            parts = [block[y::rows, x::cols] >= limit for y, x in sheet.places(plane)]
            place = np.s_[plane, run.row, run.first : run.last + 1]
            shares[place] = _plane_share(parts, tile_px // cols)
            found[plane] = np.logical_or.reduce([part[:high, :wide] for part in parts])
    return [found[plane] for plane in sorted(found)]


def _plane_share(parts: Sequence[Bool], columns: int) -> F64:
    counts = [_column_sums(part, columns) for part in parts]
    sizes = [_column_sums(np.ones_like(part[:1]), columns) * len(part) for part in parts]
    length = max(len(count) for count in counts)
    joined, size = np.zeros(length), np.zeros(length)
    for count, pixels in zip(counts, sizes, strict=True):
        joined[: len(count)] += count
        size[: len(pixels)] += pixels
    share: F64 = joined / np.maximum(size, 1.0)
    return share


def _share(cells: Bool, tile_px: int, sheet: Sheet) -> F64:
    columns = tile_px // sheet.pattern.shape[1]
    share: F64 = _column_sums(cells, columns) / np.maximum(
        _column_sums(np.ones_like(cells[:1]), columns) * len(cells), 1.0
    )
    return share


def _column_sums(flags: Bool, columns: int) -> F64:
    """Count over all rows and over groups of columns."""
    kind = np.uint8 if len(flags) <= 0xFF else np.uint32
    down = flags.view(np.uint8).sum(axis=0, dtype=kind)
    starts = np.arange(0, max(1, len(down)), columns)
    sums: F64 = np.add.reduceat(down.astype(np.float64), starts)
    return sums
