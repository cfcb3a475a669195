"""Sectors of a card in which one bit is stuck: the same in all 256 samples, and in no others.

Noise mixes the low bits of samples, and texture the higher ones. Where a bit is mixed in the rows
above and below a sector and in its own row up to its two borders, no picture leaves it alike in
between: unless a ripple or a ledge lifts the row as a whole, where a stuck bit moves those samples
alone that had it otherwise. Where the rows around hold it still themselves, a stuck bit lifts or
lowers what it changes, and the picture breaks at the borders (:mod:`auditor.defects.borders`).
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from auditor.defects.borders import SECTOR_PX, Samples
from auditor.defects.limits import MIXED_CHANGES, STUCK_SHARE, WIDE_SHARE
from auditor.model.arrays import U16

BITS = 16
END_SHARE = 0.25
"""Of the changes in a sector's length, on each side of it, where a quarter of that is looked at."""

PIECE_PX = 32
"""Over so few pixels what lifts a row lifts it alike."""


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
            held = flat[places[:, None] + np.arange(SECTOR_PX)] >> np.uint16(bit) & 1
            places = places[(held == stuck_at).all(axis=1)]
            for run in np.split(places, np.flatnonzero(np.diff(places) != SECTOR_PX) + 1):
                if not len(run):
                    continue
                begin, end = int(run[0]), int(run[-1]) + SECTOR_PX
                if not _is_mixed_around(flat, begin, end, above, bit):
                    continue
                if moves_some(flat, begin, end, above, (2 * stuck_at - 1) << bit):
                    yield begin, end


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


def moves_some(flat: U16, begin: int, end: int, above: int, step_dn: int) -> bool:
    """Tell whether some samples of a run stand a step off the rows around, and the others do not.

    What lifts them alike, piece by piece, is of the scene. Where noise is as wide as the step no
    scene holds a bit over a whole sector, and nothing is asked.

    Parameters
    ----------
    flat : array of uint16
        Pixels, row after row.
    begin, end : int
        Of the run.
    above : int
        Pixels to the row of the same colours above.
    step_dn : int
        What the bit is worth, negative where it is stuck at 0.
    """
    at = np.arange(begin, end)
    own, over, under = (
        flat[np.clip(at + rows, 0, len(flat) - 1)].astype(np.float32) for rows in (0, -above, above)
    )
    off = (own - 0.5 * (over + under)).reshape(-1, PIECE_PX // 2, 2)
    as_scene = float(off.var(axis=1).mean())
    as_stuck = float(np.minimum(off**2, (off - step_dn) ** 2).mean())
    noise = float(np.diff(off, axis=1).var()) / 2.0
    wide = noise >= (WIDE_SHARE * step_dn) ** 2
    return wide or as_stuck <= STUCK_SHARE * as_scene
