"""Counts of pixels per DN, one bin a DN, one histogram a plane: exact."""

from __future__ import annotations

from functools import cache
from importlib.machinery import PathFinder
from importlib.util import module_from_spec
from typing import Any

import numpy as np
from numpy.typing import NDArray

from auditor.model.arrays import U32
from auditor.model.measurement import Histogram
from auditor.sensor.lattice import SensorLattice, Stripe

ROWS_AT_ONCE = 22
"""Counted at a time: few enough for a core's own cache, enough that calls cost little."""


class HistogramCounter:
    """Counts the stripes of one lattice.

    All planes are counted together, each in a range of DNs of its own: that is much faster than
    picking every second pixel first.

    Parameters
    ----------
    lattice : SensorLattice
    """

    def __init__(self, lattice: SensorLattice) -> None:
        self._planes, self._places = np.unique(lattice.pattern, return_inverse=True)
        self._tallies: dict[int, U32] = {}
        self._shifts: dict[int, NDArray[np.int32]] = {}
        width, (down, across) = lattice.pixels.shape[1], self._places.shape
        self._repeats = max(1, ROWS_AT_ONCE // down), -(-width // across)
        self._bins = np.empty((self._repeats[0] * down, width), np.int32)
        self._ones = np.ones(self._bins.size, np.uint32)

    def take(self, stripe: Stripe, top_dn: int) -> None:
        """Count a stripe.

        Parameters
        ----------
        stripe : Stripe
        top_dn : int
            The largest DN in it.
        """
        levels = 1 << max(1, top_dn.bit_length())
        if levels not in self._tallies:
            self._tallies[levels] = np.zeros(len(self._planes) * levels, np.uint32)
            shift = np.tile(self._places.astype(np.int32) * levels, self._repeats)
            self._shifts[levels] = shift[:, : self._bins.shape[1]]
        for top in range(0, len(stripe.pixels), len(self._bins)):
            rows = stripe.pixels[top : top + len(self._bins)]
            bins = self._bins[: len(rows)]
            bins[...] = rows
            if len(self._planes) > 1:
                bins += self._shifts[levels][: len(rows)]
            count_into(self._tallies[levels], bins.ravel(), self._ones[: bins.size])

    def finish(self) -> dict[int, Histogram]:
        """Return the histogram of each plane of the lattice, trimmed."""
        total = np.zeros((len(self._planes), max(self._tallies, default=1)), np.uint32)
        for levels, tally in self._tallies.items():
            total[:, :levels] += tally.reshape(-1, levels)
        found: dict[int, Histogram] = {}
        for plane, counts in zip(self._planes.tolist(), total, strict=True):
            filled = np.flatnonzero(counts)
            first, end = (int(filled[0]), int(filled[-1]) + 1) if len(filled) else (0, 0)
            found[plane] = Histogram(first, counts[first:end].copy())
        return found


def count_into(tally: U32, bins: NDArray[np.int32], ones: U32) -> None:
    """Add one to a bin for each time that it is named; every name must be a bin's.

    A vector of counts is the product of a sparse matrix, a column with a one in the row of each
    pixel's bin, and 1. SciPy's compiled product takes half the time of NumPy's own ways to count.
    """
    if (products := sparse_products()) is None:
        np.add.at(tally, bins.astype(np.intp), np.uint32(1))
    else:
        ends = np.array([0, len(bins)], np.int32)
        products.csc_matvec(len(tally), 1, ends, bins, ones, ones[:1], tally)


@cache
def sparse_products() -> Any:
    """Load SciPy's compiled products alone: all of its sparse matrices take 16 MB and 0.1 s.

    None where they do not lie where they did, or do not count as they did.
    """
    counted, ones = np.zeros(3, np.uint32), np.ones(4, np.uint32)
    try:
        package: Any = PathFinder.find_spec("scipy")
        folders = [f"{folder}/sparse" for folder in package.submodule_search_locations]
        spec: Any = PathFinder.find_spec("scipy.sparse._sparsetools", folders)
        products = module_from_spec(spec)
        spec.loader.exec_module(products)
        ends, bins = np.array([0, 4], np.int32), np.array([2, 0, 2, 2], np.int32)
        products.csc_matvec(3, 1, ends, bins, ones, ones[:1], counted)
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
    above = np.cumsum(histogram.counts[::-1], dtype=np.int64)
    return histogram.last_dn - int((above <= few).sum())
