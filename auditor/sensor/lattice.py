"""Two-dimensional lattices of pixels: what every measure works on, whatever the layout.

A mosaic is one lattice whose planes share a repeating pattern. Three-sample linear data are three
lattices of one plane each. Every measure is written once, for a lattice of any pattern.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from auditor.model.arrays import I64, U8, U16, Bool
from auditor.model.codes import Layout
from auditor.model.mosaic import Mosaic

STRIPE_ROWS = 96
"""Rows worked on at a time: with all temporary arrays they fit a core's own cache."""

TILES_ON_LONG_SIDE = 192
LEAST_CELL_PX = 4


@dataclass(frozen=True, slots=True, eq=False)
class SensorLattice:
    """One lattice of pixels.

    Parameters
    ----------
    pixels : array of uint16, shape (height, width)
        A view; never written to.
    pattern : array of uint8, shape (rows, cols)
        Plane index per place, repeating from the top-left pixel.
    """

    pixels: U16
    pattern: U8

    @property
    def planes(self) -> list[int]:
        """Planes on this lattice, in order."""
        return sorted(set(self.pattern.tobytes()))

    def places(self, plane: int) -> list[tuple[int, int]]:
        """(row, column) of the places of a plane within the pattern."""
        cols = self.pattern.shape[1]
        return [divmod(at, cols) for at, own in enumerate(self.pattern.tobytes()) if own == plane]


@dataclass(frozen=True, slots=True, eq=False)
class Stripe:
    """Some whole rows of a lattice, ``top`` to ``bottom``; ``top`` is a multiple of the cell."""

    lattice: SensorLattice
    top: int
    bottom: int

    @property
    def pixels(self) -> U16:
        """The rows, a view of shape (bottom - top, width)."""
        return self.lattice.pixels[self.top : self.bottom]


def lattices_of(mosaic: Mosaic) -> tuple[SensorLattice, ...]:
    """Return the lattices of a mosaic: one, or three for linear data."""
    if mosaic.layout is Layout.LINEAR:
        return tuple(
            SensorLattice(mosaic.pixels[:, :, plane], np.full((1, 1), plane, dtype=np.uint8))
            for plane in range(len(mosaic.plane_names))
        )
    return (SensorLattice(mosaic.pixels, mosaic.pattern),)


def cell_size_px(mosaic: Mosaic) -> int:
    """Return the side of a cell in pixels: half a tile, a multiple of the pattern.

    Tiles are chosen so that there are at most 192 on the longer side, and never so small that
    the mean over one is no better than a pixel.
    """
    period = int(np.lcm(*mosaic.pattern.shape))
    longest = max(mosaic.width, mosaic.height)
    needed = -(-longest // (2 * TILES_ON_LONG_SIDE * period))
    return period * max(needed, -(-LEAST_CELL_PX // period))


def period_of(places: Bool) -> int:
    """Return the side of the smallest square cell that repeats in some places of a pattern."""
    found = 1
    for turned in (places, places.T):
        length = len(turned)
        whole = (n for n in range(1, length) if length % n == 0)
        found = math.lcm(
            found, next((n for n in whole if np.array_equal(turned[n:], turned[:-n])), length)
        )
    return found


def stripes_of(lattice: SensorLattice, cell_px: int) -> Iterator[Stripe]:
    """Walk a lattice in stripes of whole cells; the last stripe may end within one."""
    rows = cell_px * max(1, round(STRIPE_ROWS / cell_px))
    height = lattice.pixels.shape[0]
    for top in range(0, height, rows):
        yield Stripe(lattice, top, min(top + rows, height))


def pixels_per_cell(lattice: SensorLattice, plane: int, cell_px: int) -> I64:
    """Count the pixels of a plane in each cell, (rows, cols)."""
    height, width = lattice.pixels.shape
    total = np.zeros((-(-height // cell_px), -(-width // cell_px)), dtype=np.int64)
    for y, x in lattice.places(plane):
        down = lattice_counts(height, cell_px, y, lattice.pattern.shape[0])
        across = lattice_counts(width, cell_px, x, lattice.pattern.shape[1])
        total += np.outer(down, across)
    return total


def lattice_counts(length: int, cell_px: int, offset: int, step: int) -> I64:
    """Count the positions ``offset, offset + step, ...`` below ``length`` in each cell."""
    edges = np.minimum(np.arange(0, length + cell_px, cell_px), length)
    below = -((offset - edges) // step)
    counts: I64 = np.diff(np.maximum(below, 0)).astype(np.int64)
    return counts
