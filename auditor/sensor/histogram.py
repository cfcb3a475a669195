"""Counts of pixels per DN, one bin a DN, one histogram a plane: exact."""

from __future__ import annotations

import sys
from functools import cache
from importlib.machinery import PathFinder
from importlib.util import module_from_spec
from typing import Any

import numpy as np
from numpy.typing import NDArray

from auditor.model.arrays import U16, U32
from auditor.model.measurement import Histogram
from auditor.sensor.lattice import SensorLattice, Stripe

ROWS_AT_ONCE = 22
"""Counted at a time: few enough for a core's own cache, enough that calls cost little."""

BITS = np.uint32(16)
LEVELS = 1 << 16
LOW_BITS = np.uint32(LEVELS - 1)
FIRST_IS_LOW = sys.byteorder == "little"


class HistogramCounter:
    """Counts the stripes of one lattice.

    Two pixels side by side are read as one word, and its halves counted apart: half the work of
    widening each pixel by itself. Colours that share a half have their levels moved apart.

    Parameters
    ----------
    lattice : SensorLattice
    """

    def __init__(self, lattice: SensorLattice) -> None:
        self._planes, places = np.unique(lattice.pattern, return_inverse=True)
        self._tallies = np.zeros((len(self._planes), LEVELS), np.int32)
        width, (down, across) = lattice.pixels.shape[1], places.shape
        self._columns = -(-width // 2), width // 2
        # the colours of the even and of the odd columns, for each row of the pattern
        lines = np.tile(places.astype(np.int32), 1 + across % 2)
        self._places = [(line[0::2], line[1::2]) for line in lines]
        self._rows = max(1, ROWS_AT_ONCE // down) * down
        self._words = np.empty(self._rows * self._columns[0], np.uint32)
        self._copy = np.empty((self._rows, 2 * self._columns[0]), np.uint16)

    def take(self, stripe: Stripe) -> None:
        """Count a stripe."""
        down = len(self._places)
        for top in range(0, len(stripe.pixels), self._rows):
            pairs = self._pairs(stripe.pixels[top : top + self._rows])
            for line, places in enumerate(self._places):
                for half, own in enumerate(places):
                    self._count(pairs[line::down], half, own)

    def _pairs(self, rows: U16) -> U32:
        """Read two neighbours as one word; of an odd width the last has a half without meaning."""
        if rows.shape[1] % 2 or rows.strides[1] != rows.itemsize:
            copy = self._copy[: len(rows)]
            copy[:, : rows.shape[1]] = rows
            rows = copy
        return rows.view(np.uint32)

    def _count(self, pairs: U32, half: int, places: NDArray[np.int32]) -> None:
        """Count the even columns of some rows, or the odd ones."""
        columns = self._columns[half]
        words = self._words[: len(pairs) * columns].reshape(len(pairs), columns)
        if half == FIRST_IS_LOW:
            np.right_shift(pairs[:, :columns], BITS, out=words)
        else:
            np.bitwise_and(pairs[:, :columns], LOW_BITS, out=words)
        bins, (first, *others) = words.view(np.int32), places.tolist()
        if others.count(first) == len(others):
            count_into(self._tallies[first], bins.ravel())
        else:
            bins += np.resize(places * LEVELS, columns)
            count_into(self._tallies.ravel(), bins.ravel())

    def finish(self) -> dict[int, Histogram]:
        """Return the histogram of each plane of the lattice, trimmed."""
        found: dict[int, Histogram] = {}
        for plane, counts in zip(self._planes.tolist(), self._tallies, strict=True):
            filled = np.flatnonzero(counts)
            first, end = (int(filled[0]), int(filled[-1]) + 1) if len(filled) else (0, 0)
            found[plane] = Histogram(first, counts[first:end].astype(np.uint32))
        return found


def count_into(tally: NDArray[np.int32], bins: NDArray[np.int32]) -> None:
    """Add one to a bin for each time that it is named; every name must be a bin's.

    SciPy picks columns of a sparse matrix by first counting how often each is named. Of a matrix
    without rows and columns nothing else is left to do; that takes a third of the time of NumPy's
    own ways to count.
    """
    if (products := sparse_products()) is None:
        np.add.at(tally, bins.astype(np.intp), np.int32(1))
    else:
        products.csr_column_index1(len(bins), bins, 0, 0, NONE, NONE, tally, NONE.copy())


NONE = np.zeros(1, np.int32)


@cache
def sparse_products() -> Any:
    """Load SciPy's compiled products alone: all of its sparse matrices take 16 MB and 0.1 s.

    None where they do not lie where they did, or do not count as they did.
    """
    counted, bins = np.zeros(3, np.int32), np.array([2, 0, 2, 2], np.int32)
    try:
        package: Any = PathFinder.find_spec("scipy")
        folders = [f"{folder}/sparse" for folder in package.submodule_search_locations]
        spec: Any = PathFinder.find_spec("scipy.sparse._sparsetools", folders)
        products = module_from_spec(spec)
        spec.loader.exec_module(products)
        products.csr_column_index1(4, bins, 0, 0, NONE, NONE, counted, NONE.copy())
    except (ImportError, AttributeError, TypeError, ValueError):
        return None
    return products if counted.tolist() == [1, 0, 3] else None


def cut_off_dn(histogram: Histogram) -> int:
    """Return the DN under which noise was cut off: the lowest where it is a pile, else 0.

    Noise thins out towards its end; a lowest value that holds more than those above it does not.
    """
    first, *above = histogram.counts[:6].tolist() or [0]
    return histogram.first_dn if first > max([50, *above]) else 0


def upper_end_dn(histogram: Histogram, share: float, least: int = 20) -> int:
    """Return the highest DN that more than a few pixels reach.

    Parameters
    ----------
    share : float
        Of the pixels that may lie above, hot pixels and the like; at least ``least`` may.
    """
    few = max(least, round(share * histogram.total))
    return histogram.dn_with_above(few)
