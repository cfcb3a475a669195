"""Sectors of a card in which one bit is stuck: the same in all 256 samples, and in no others.

Noise mixes the low bits of samples, and texture the higher ones. Where a bit is mixed in the rows
above and below a sector and in its own row up to its two borders, no picture leaves it alike in
between. Where the rows around hold it still themselves, a stuck bit lifts or lowers what it
changes, and the picture breaks at the borders (:mod:`auditor.defects.borders`).
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from auditor.defects.borders import SECTOR_PX, Samples
from auditor.defects.limits import MIXED_CHANGES
from auditor.model.arrays import I64, U16

BITS = 16
END_SHARE = 0.25
"""Of the changes in a sector's length, on each side of it, where a quarter of that is looked at."""


def stuck_runs(flat: U16, samples: Samples, above: int) -> Iterator[tuple[int, int]]:
    """Yield the beginning and the end of each run of sectors in which a bit is stuck.

    Parameters
    ----------
    flat : array of uint16
        Pixels, row after row.
    above : int
        Pixels to the row of the same colours above.
    """
    left, right = np.split(samples.above, 2)
    mixed = np.bitwise_or.reduce(left) & ~np.bitwise_and.reduce(left)
    mixed &= np.bitwise_or.reduce(right) & ~np.bitwise_and.reduce(right)
    ones = np.bitwise_and.reduce(samples.own) & mixed
    zeros = ~np.bitwise_or.reduce(samples.own) & mixed
    for stuck_at, bits in ((1, ones), (0, zeros)):
        some = np.flatnonzero(bits)
        for bit in range(BITS):
            sectors = some[bits[some] >> np.uint16(bit) & 1 == 1]
            places = samples.begin + SECTOR_PX * sectors
            for begin, end in _runs(_held(flat, places, bit, stuck_at)):
                if _is_mixed_around(flat, begin, end, above, bit):
                    yield begin, end


def _held(flat: U16, places: I64, bit: int, stuck_at: int) -> I64:
    """Return those sectors of which every sample holds the bit."""
    at = places[:, None] + np.arange(SECTOR_PX)
    held: I64 = places[((flat[at] >> np.uint16(bit) & 1) == stuck_at).all(axis=1)]
    return held


def _runs(places: I64) -> list[tuple[int, int]]:
    """Join sectors that follow each other."""
    parts = np.split(places, np.flatnonzero(np.diff(places) != SECTOR_PX) + 1)
    return [(int(part[0]), int(part[-1]) + SECTOR_PX) for part in parts if len(part)]


def _is_mixed_around(flat: U16, begin: int, end: int, above: int, bit: int) -> bool:
    """Tell whether a bit changes often in the rows above and below, and on both sides."""
    quarter = SECTOR_PX // 4
    least = MIXED_CHANGES * END_SHARE
    for start, stop, changes in (
        (begin - above, begin - above + SECTOR_PX, MIXED_CHANGES),
        (end + above - SECTOR_PX, end + above, MIXED_CHANGES),
        (begin - quarter, begin, least),
        (end, end + quarter, least),
    ):
        held = flat[max(0, start) : stop] >> np.uint16(bit) & 1
        if np.count_nonzero(held[2:] != held[:-2]) < changes:
            return False
    return True
