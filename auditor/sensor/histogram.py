"""Counts of pixels per DN, one bin a DN, one histogram a plane: exact."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from auditor.model.arrays import U32
from auditor.model.measurement import Histogram
from auditor.sensor.lattice import SensorLattice, Stripe

LEVELS = 1 << 16
ROWS_AT_ONCE = 8
"""Counted at a time: with their eight bytes a pixel they still fit a core's own cache."""


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
        self._shifts: dict[int, NDArray[np.unsignedinteger]] = {}

    def take(self, stripe: Stripe, top_dn: int) -> None:
        """Count a stripe.

        Parameters
        ----------
        stripe : Stripe
        top_dn : int
            The largest DN in it.
        """
        bins = 1 << max(1, top_dn.bit_length())
        planes, period = len(self._planes), len(self._places)
        if bins not in self._tallies:
            self._tallies[bins] = np.zeros(planes * bins, np.uint32)
            kind = np.uint16 if planes * bins <= LEVELS else np.uint32
            width = stripe.pixels.shape[1]
            repeats = (max(1, ROWS_AT_ONCE // period), -(-width // self._places.shape[1]))
            self._shifts[bins] = np.tile(self._places * bins, repeats)[:, :width].astype(kind)
        shift = self._shifts[bins]
        for top in range(0, len(stripe.pixels), len(shift)):
            rows = stripe.pixels[top : top + len(shift)]
            moved = rows if planes == 1 else rows + shift[: len(rows)]
            np.add.at(self._tallies[bins], moved.astype(np.intp).ravel(), np.uint32(1))

    def finish(self) -> dict[int, Histogram]:
        """Return the histogram of each plane of the lattice, trimmed."""
        total = np.zeros((len(self._planes), max(self._tallies, default=1)), np.uint32)
        for bins, tally in self._tallies.items():
            total[:, :bins] += tally.reshape(-1, bins)
        found: dict[int, Histogram] = {}
        for plane, counts in zip(self._planes.tolist(), total, strict=True):
            filled = np.flatnonzero(counts)
            first, end = (int(filled[0]), int(filled[-1]) + 1) if len(filled) else (0, 0)
            found[plane] = Histogram(first, counts[first:end].copy())
        return found


def cut_off_dn(histogram: Histogram, most: int = 50) -> int:
    """Return the DN under which noise was cut off: the lowest where it is a pile, else 0.

    Noise thins out towards its end; a lowest value that holds more than those above it does not.
    """
    first, *above = histogram.counts[:6].tolist() or [0]
    return histogram.first_dn if first > max(most, *above, 0) else 0


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
