"""Clusters of a card that hold other data: breaks in the picture exactly at borders of 512 bytes.

A card loses whole sectors. In plain data a lost, foreign or stuck sector begins and ends within a
row, at a multiple of 512 bytes of the file, to the pixel. No scene does that: an edge that crosses
one row crosses its neighbours too, for no lens draws finer than two rows, and it goes on or turns
where it likes.

Each pixel is held against the one a pattern's height above it. At a true border that difference
steps in the row of the border and again a pattern's height below it (where the same row is the one
above), and in the rows between it does not, for there both sides are of the same origin.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from auditor.defects.limits import (
    COARSE_RATIO,
    FOREIGN_RATIO,
    FOREIGN_SHARE,
    NEAR_RATIO,
    SECTOR_STEP_DN,
    STEP_RATIO,
)
from auditor.model.arrays import F32, I64, U16, Bool
from auditor.model.codes import Damage
from auditor.model.measurement import DamageSign

SECTOR_BYTES = 512
STRIDE_PX = 16
"""Of a sector every so many pixels are looked at, to find where to look closely."""

SIDE_PX = 32
NEAR_PX = 6

CLUSTER_SECTORS = 8
"""Losses are of one, two or four sectors or of whole clusters, which are this or a multiple."""

LONGEST_SECTORS = 1024
"""Of a loss, a few clusters at most: it begins and ends; one border alone may be chance."""

WINDOWS, WINDOW_PX = 48, 16


@dataclass(frozen=True, slots=True)
class PlainChunk:
    """Samples that lie in the file as they are, row after row.

    Parameters
    ----------
    offset : int
        Of its first sample in the file, in bytes.
    rows, cols : slice
        Where it belongs in the picture.
    """

    offset: int
    rows: slice
    cols: slice


def foreign_sectors(
    stored: U16, chunks: Sequence[PlainChunk], period: int
) -> tuple[DamageSign, ...]:
    """Return a sign of damage where sectors of the card hold other data; arguments as below."""
    breaks = broken_sectors(stored, chunks, period)
    if not breaks:
        return ()
    (row, col), (last_row, last_col) = breaks[0], breaks[-1]
    figures = {
        "row": row, "column": col, "last_row": last_row, "last_column": last_col,
        "breaks": len(breaks), "sector_bytes": SECTOR_BYTES,
    }  # fmt: skip
    share = (last_row - row + 1) / stored.shape[0]
    return (DamageSign(Damage.FOREIGN_SECTORS, share, figures),)


def broken_sectors(stored: U16, chunks: Sequence[PlainChunk], period: int) -> list[tuple[int, int]]:
    """Find borders of sectors at which the picture breaks.

    Parameters
    ----------
    stored : array of uint16, shape (height, width)
        As stored, margins included; two bytes a sample.
    period : int
        Height of the colour pattern.

    Returns
    -------
    list of (row, column)
        Where breaks lie, in the order of the file: always two or more near each other.
    """
    found: list[tuple[int, int]] = []
    for chunk in chunks:
        part = np.ascontiguousarray(stored[chunk.rows, chunk.cols])
        places = _borders(part, chunk.offset, period)
        for place in sorted({end for pair in _pairs(part, places, period) for end in pair}):
            row, col = divmod(place, part.shape[1])
            found.append(((chunk.rows.start or 0) + row, (chunk.cols.start or 0) + col))
    return found


def _pairs(part: U16, places: I64, period: int) -> Iterator[tuple[int, int]]:
    """Yield the beginning and the end of each run of sectors that is foreign throughout."""
    for number, begin in enumerate(places.tolist()):
        for end in places[number + 1 :].tolist():
            sectors, rest = divmod(2 * (end - begin), SECTOR_BYTES)
            if sectors > LONGEST_SECTORS:
                break
            likely = sectors in (1, 2, 4) or sectors % CLUSTER_SECTORS == 0
            if not rest and likely and _foreign_throughout(part, begin, end, period):
                yield begin, end


def _foreign_throughout(part: U16, begin: int, end: int, period: int) -> bool:
    """Tell whether a run differs from the rows above it as those do not from theirs."""
    flat, above = part.ravel(), period * part.shape[1]
    last = min(end, begin + above) - WINDOW_PX
    if begin < 2 * above or last < begin:
        return False
    starts = np.linspace(begin, last, WINDOWS).astype(np.int64)
    at = starts[:, None] + np.arange(WINDOW_PX)
    lines = [flat[at - back * above].astype(np.int32) for back in range(3)]
    own, usual = (np.abs(lines[n] - lines[n + 1]).mean(axis=1) for n in range(2))
    return bool((own >= FOREIGN_RATIO * (usual + 1.0)).mean() >= FOREIGN_SHARE)


def _borders(part: U16, offset: int, period: int) -> I64:
    """Return the places, counted in pixels from the chunk's first, of borders that break."""
    if offset % 2 or part.shape[0] < 4 * period or part.shape[1] < 4 * SIDE_PX:
        return np.empty(0, dtype=np.int64)
    flat, width = part.ravel(), part.shape[1]
    first = (-offset % SECTOR_BYTES) // 2
    places = _candidates(flat, first, period * width)
    # both sides of a border must lie within its row, and the rows compared within the chunk
    col = places % width
    inside = (col >= SIDE_PX) & (col <= width - SIDE_PX)
    inside &= (places >= (period + 1) * width) & (places < len(flat) - (period + 1) * width)
    places = places[inside]
    return _breaks(flat, places, width, period)


def _candidates(flat: U16, first: int, above: int) -> I64:
    """Find sectors that differ from the row above far more, or far less, than the one before."""
    per_sector = SECTOR_BYTES // 2
    begin = first + -(-above // per_sector) * per_sector
    count = (len(flat) - begin) // per_sector
    if count < 2:
        return np.empty(0, dtype=np.int64)
    end = begin + count * per_sector
    below = flat[begin:end:STRIDE_PX].astype(np.int32)
    change = np.abs(below - flat[begin - above : end - above : STRIDE_PX])
    means = change.reshape(count, -1).mean(axis=1, dtype=np.float32)
    steps = _is_step(means[:-1], means[1:], COARSE_RATIO)
    found: I64 = begin + (np.flatnonzero(steps) + 1) * per_sector
    return found


def _is_step(left: F32, right: F32, ratio: float) -> Bool:
    """Tell where one side is larger than the other by a ratio, rounding aside."""
    low, high = np.minimum(left, right) + 1.0, np.maximum(left, right)
    steps: Bool = (high >= ratio * low) & (high - low >= SECTOR_STEP_DN)
    return steps


def _breaks(flat: U16, places: I64, width: int, period: int) -> I64:
    """Return the places that step as only a border of a sector does."""

    def sides(rows_below: int, pixels: int = SIDE_PX) -> tuple[F32, F32]:
        at = places[:, None] + rows_below * width + np.arange(-pixels, pixels)
        change = np.abs(flat[at].astype(np.int32) - flat[at - period * width])
        left, right = change[:, :pixels], change[:, pixels:]
        return left.mean(axis=1, dtype=np.float32), right.mean(axis=1, dtype=np.float32)

    left, right = sides(0, NEAR_PX)
    up = left < right
    keep = _is_step(left, right, NEAR_RATIO)
    places, up = places[keep], up[keep]
    left, right = sides(0)
    keep = _is_step(left, right, STEP_RATIO) & ((left < right) == up)
    quiet, loud = np.minimum(left, right) + 1.0, np.maximum(left, right)
    foreign_from = np.maximum(FOREIGN_RATIO * quiet, np.sqrt(quiet * loud))
    changed = {
        row: tuple(side >= foreign_from for side in sides(row))
        for row in {-1, 1, period - 1, period}
    }
    for row in {-1, 1, period - 1}:
        keep &= changed[row][0] == changed[row][1]
    # a pattern's height below, the row of the border is the row above
    turned = changed[period][0] != changed[period][1]
    turned &= _is_step(*sides(period, NEAR_PX), NEAR_RATIO)
    # or what lies below is as foreign, and so is the whole row between, but not the one before
    wild = up & ~changed[-1][0] & changed[1][0] & changed[period][0] & changed[period][1]
    found: I64 = places[keep & (turned | wild)]
    return found


def empty_sectors(data: bytes, parts: Sequence[tuple[int, int]]) -> tuple[DamageSign, ...]:
    """Look for whole sectors of zeros within packed data, which begin and end at their borders.

    A blown sky may pack into zeros too, but its zeros end where they like.

    Parameters
    ----------
    parts : sequence of (offset, length)
        Where packed data lie in the file, in bytes.
    """
    whole = len(data) // SECTOR_BYTES
    words = np.frombuffer(data, dtype=np.uint64, count=whole * SECTOR_BYTES // 8)
    zero = ~words.reshape(whole, -1).any(axis=1)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], zero, [False]])))
    lost = 0
    for begin, end in (edges.reshape(-1, 2) * SECTOR_BYTES).tolist():
        inside = any(offset < begin and end < offset + length for offset, length in parts)
        if inside and data[begin - 1] and data[end]:
            lost += end - begin
    if not lost:
        return ()
    total = sum(length for _, length in parts)
    share = min(1.0, lost / max(1, total))
    return (DamageSign(Damage.EMPTY_SECTORS, share, {"sectors": lost // SECTOR_BYTES}),)


def foreign_tiles(
    foreign: Sequence[int], places: Sequence[tuple[int, int]]
) -> tuple[DamageSign, ...]:
    """Return a sign of damage where packed tiles hold other data than those of their picture.

    Parameters
    ----------
    foreign : sequence of int
        Their numbers.
    places : sequence of (row, column)
        The corner of each tile of the picture.
    """
    if not foreign:
        return ()
    row, col = places[foreign[0]]
    figures = {"tiles": len(foreign), "of": len(places), "row": row, "column": col}
    return (DamageSign(Damage.FOREIGN_TILES, len(foreign) / len(places), figures),)
