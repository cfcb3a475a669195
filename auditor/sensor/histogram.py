"""Counts of pixels per DN, one bin a DN, one histogram a plane: exact."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from auditor.model.arrays import I64
from auditor.model.measurement import Histogram
from auditor.sensor.lattice import SensorLattice, Stripe

LEVELS = 1 << 16


class HistogramCounter:
    """Counts the stripes of one lattice.

    The planes of one row of the pattern are counted together, each in a range of DNs of its
    own: that is much faster than picking every second pixel first.

    Parameters
    ----------
    lattice : SensorLattice
    """

    def __init__(self, lattice: SensorLattice) -> None:
        self._pattern = lattice.pattern
        self._rows = [np.unique(row, return_inverse=True) for row in lattice.pattern]
        self._tallies: dict[tuple[int, int], I64] = {}
        self._shifts: dict[tuple[int, int], NDArray[np.unsignedinteger]] = {}

    def take(self, stripe: Stripe, top_dn: int) -> None:
        """Count a stripe.

        Parameters
        ----------
        stripe : Stripe
        top_dn : int
            The largest DN in it.
        """
        bins = 1 << max(1, top_dn.bit_length())
        period = len(self._pattern)
        for phase in range(min(period, stripe.bottom - stripe.top)):
            rows = stripe.pixels[phase::period]
            planes, index = len(self._rows[phase][0]), self._rows[phase][1]
            if (phase, bins) not in self._shifts:  # what lets the planes of a row count apart
                kind = np.uint16 if planes * bins <= LEVELS else np.uint32
                self._shifts[phase, bins] = np.resize(index * bins, rows.shape[1]).astype(kind)
            moved = rows if planes == 1 else rows + self._shifts[phase, bins]
            found = np.bincount(moved.astype(np.intp).ravel(), minlength=planes * bins)
            if (phase, bins) in self._tallies:
                self._tallies[phase, bins] += found
            else:
                self._tallies[phase, bins] = found

    def finish(self) -> dict[int, Histogram]:
        """Return the histogram of each plane of the lattice, trimmed."""
        levels = max((bins for _, bins in self._tallies), default=1)
        total = {plane: np.zeros(levels, np.int64) for plane in np.unique(self._pattern).tolist()}
        for (phase, bins), tally in self._tallies.items():
            for plane, counts in zip(self._rows[phase][0], tally.reshape(-1, bins), strict=True):
                total[int(plane)][:bins] += counts
        found: dict[int, Histogram] = {}
        for plane, counts in total.items():
            filled = np.flatnonzero(counts)
            first, end = (int(filled[0]), int(filled[-1]) + 1) if len(filled) else (0, 0)
            found[plane] = Histogram(first, counts[first:end].astype(np.uint32))
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
