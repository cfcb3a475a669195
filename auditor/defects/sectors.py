"""Clusters of a card that hold other data, in plain and in packed pictures.

A card loses whole sectors. In plain data a lost, foreign or stuck sector begins and ends within a
row, at a multiple of 512 bytes of the file, to the pixel: the picture breaks there
(:mod:`auditor.defects.borders`), and between two such borders it differs throughout.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from auditor.defects.borders import (
    SECTOR_PX,
    SIDE_PX,
    Samples,
    begins_row,
    find_breaks,
    sample_sectors,
)
from auditor.defects.limits import (
    ASIDE_RATIO,
    BESIDE_RATIO,
    FEW_RATIO,
    FOREIGN_RATIO,
    FOREIGN_SHARE,
    LEAST_MISSING,
    LONE_RATIO,
)
from auditor.defects.stuck_bits import stuck_runs
from auditor.model.arrays import F32, I64, U16, FileBytes
from auditor.model.codes import Damage
from auditor.model.measurement import DamageSign

SECTOR_BYTES = 512

CLUSTER_SECTORS, LARGE_CLUSTER_SECTORS = 8, 64
"""Losses are of one, two or four sectors or of whole clusters: of 4 KiB, as small cards are
formatted, or of 32 KiB and its multiples, as larger ones are (SD's file system, from memory). So
what is longer than 32 KiB counts in those: of the many pairs of borders far apart fewer fit by
chance."""


WINDOWS, WINDOW_PX = 64, 32
LONE_PX = SECTOR_PX * (1 << np.arange(10))
"""Clusters are powers of two: only one of a single cluster is believed by one border alone."""

LONE_LOOKS, NEAR_RUN_PX = 8, 1024
"""Sectors that are looked at first, and pixels on each side of a border."""


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
    found = sector_breaks(stored, chunks, period)
    breaks = list(found)
    if not breaks:
        return ()
    # a hairline of the scene may end at one border by chance, or hold a bit; at two it hardly does
    kind = Damage.FOREIGN_SECTORS if any(found.values()) else Damage.ODD_SECTORS
    (row, col), (last_row, last_col) = breaks[0], breaks[-1]
    figures = {
        "row": row, "column": col, "last_row": last_row, "last_column": last_col,
        "breaks": len(breaks), "sector_bytes": SECTOR_BYTES,
    }  # fmt: skip
    share = (last_row - row + 1) / stored.shape[0]
    return (DamageSign(kind, share, figures),)


def sector_breaks(
    stored: U16, chunks: Sequence[PlainChunk], period: int
) -> dict[tuple[int, int], bool]:
    """Find borders of sectors between which other data lie, or a bit is stuck.

    Parameters
    ----------
    stored : array of uint16, shape (height, width)
        As stored, margins included; two bytes a sample.
    period : int
        Height of the colour pattern.

    Returns
    -------
    dict
        By (row, column), where runs begin and end, in the order of the file: whether the picture
        breaks at both ends of the run.
    """
    found: dict[tuple[int, int], bool] = {}
    for chunk in chunks:
        part = np.ascontiguousarray(stored[chunk.rows, chunk.cols])
        width, above = part.shape[1], period * part.shape[1]
        if chunk.offset % 2 or part.shape[0] < 4 * period or width < 4 * SIDE_PX:
            continue
        flat = part.ravel()
        samples = sample_sectors(flat, -chunk.offset % SECTOR_BYTES // 2, above)
        stuck = stuck_runs(flat, samples, above)
        # a row may hold a tone up to its own end: a course of bricks, a rail
        runs = [(*run, False) for run in stuck if not begins_row(np.array(run), width).any()]
        runs += _foreign_runs(flat, samples, width, period)
        sure = {end for *run, at_both in runs if at_both for end in run}
        for place in sorted({end for *run, _ in runs for end in run}):
            row, col = divmod(place, width)
            there = (chunk.rows.start or 0) + row, (chunk.cols.start or 0) + col
            found[there] = place in sure
    return found


def _foreign_runs(
    flat: U16, samples: Samples, width: int, period: int
) -> Iterator[tuple[int, int, bool]]:
    """Yield beginning and end of each foreign run of sectors, and whether both were found."""
    places, found = find_breaks(flat, samples, width, period), False
    # of a loss, a few clusters at most: it begins and ends; one border alone may be chance
    longest_sectors = 1024
    for number, begin in enumerate(places.tolist()):
        for end in places[number + 1 :].tolist():
            sectors = (end - begin) // SECTOR_PX
            if sectors > longest_sectors:
                break
            long = sectors > LARGE_CLUSTER_SECTORS
            clusters = sectors % (LARGE_CLUSTER_SECTORS if long else CLUSTER_SECTORS) == 0
            likely = sectors in (1, 2, 4) or clusters
            if likely and foreign_throughout(flat, begin, end, width, period):
                found = True
                yield begin, end, True
    for begin, end in () if found else _lone_runs(samples, places, width, period):
        if stands_out(flat, begin, end, width, period):
            yield begin, end, False


def _lone_runs(samples: Samples, places: I64, width: int, period: int) -> Iterator[tuple[int, int]]:
    """Yield runs of one cluster that begin or end at a break, where both ends seem foreign."""
    begins = np.concatenate([places[:, None] - shift for shift in (0 * LONE_PX, LONE_PX)]).ravel()
    ends = begins + np.tile(LONE_PX, 2 * len(places))
    change = np.abs((samples.own.astype(np.float32) - samples.above).mean(axis=0))
    last = samples.begin + SECTOR_PX * len(change) - (period + 3) * width
    likely = (begins >= samples.begin) & (ends < last)
    likely &= ~begins_row(begins, width) & ~begins_row(ends, width)
    reach = np.minimum(ends - begins, width)[:, None]
    at = (reach - SECTOR_PX) * np.arange(LONE_LOOKS) // (LONE_LOOKS - 1)
    # a run's last rows differ from the first ones behind it, which are those that are sampled
    for start, row in ((begins[:, None], -width), (ends[:, None] - reach + period * width, width)):
        sectors = [(start + at + rows * row - samples.begin) // SECTOR_PX for rows in range(4)]
        seen = [change[np.clip(sector, 0, len(change) - 1)] for sector in sectors]
        likely &= (seen[0] > np.max(seen[1:], axis=0)).mean(axis=1) >= 0.5
    return zip(begins[likely].tolist(), ends[likely].tolist(), strict=True)


def stands_out(flat: U16, begin: int, end: int, width: int, period: int) -> bool:
    """Tell whether a run differs several times as much as all around it, from end to end.

    Most of it does so more than any row before it or behind it in the same columns, and where it
    begins and ends more than its own rows beside it. Then one of its borders is enough.
    """
    reach = min(end - begin, width)
    rows = (0, 1, 2, 3, -1) if end - begin <= width else (0, 1, 2, 3)
    least_dn = 0.3  # what rounding may leave of no difference
    for start, edge, row, near, aside in _ends(begin, end, reach, width):
        at = _spread(start, reach)
        own, *others = (np.abs(_windows(flat, at + k * row, period * row)[0]) for k in rows)
        if np.median(own / (np.max(others, axis=0) + least_dn)) < LONE_RATIO:
            return False
        at = _spread(edge, near)
        inside, beside = (_windows(flat, at + shift, period * row)[0] for shift in (0, aside))
        if np.median(np.abs(inside)) < BESIDE_RATIO * (np.median(np.abs(beside)) + least_dn):
            return False
    return True


def _ends(begin: int, end: int, reach: int, width: int) -> tuple[tuple[int, ...], ...]:
    """Return of both ends of a run: where to look along it, where near its border, and whereto.

    These are where the stretch begins that is looked at, the one at the border, pixels to the next
    row outside, pixels of the stretch at the border, and pixels to what lies beside it.
    """
    near = min(reach, NEAR_RUN_PX)
    return (begin, begin, -width, near, -near), (end - reach, end - near, width, near, near)


def _spread(start: int, reach: int) -> I64:
    """Return the pixels of some windows over a stretch: (windows, pixels)."""
    starts = np.unique(np.linspace(start, start + reach - WINDOW_PX, WINDOWS).astype(np.int64))
    spread: I64 = starts[:, None] + np.arange(WINDOW_PX)
    return spread


def foreign_throughout(flat: U16, begin: int, end: int, width: int, period: int) -> bool:
    """Tell whether a run differs from the rows before and behind it as those do not from theirs.

    Its own rows beside it must not differ like that: where a whole row of the scene differs from
    the next, as at the edge of a ledge, borders of sectors in it are chance.
    """
    few = end - begin < CLUSTER_SECTORS * SECTOR_PX
    # chance makes few sectors differ more often than many: half as much again of them has to
    ratio, more = (FEW_RATIO, 1.5) if few else (FOREIGN_RATIO, 1.0)
    reach = min(end - begin, period * width)
    for start, edge, row, near, aside in _ends(begin, end, reach, width):
        at = _spread(start, reach)
        # the run's own differences to the next row outside it, then those of three rows there
        windows = [_windows(flat, at + rows * row, period * row) for rows in range(4)]
        levels, sizes = (np.stack(part) for part in zip(*windows, strict=True))
        level, usual = (np.sqrt((part**2).mean() + 0.1) for part in (levels[0], levels[1:]))
        other = np.abs(levels[0]) > np.maximum(np.abs(levels[1:]).max(axis=0), usual)
        rough = np.sqrt(ratio) * np.stack([sizes[1:].max(axis=0), 1.0 / sizes[1:].min(axis=0)])
        as_rough = np.stack([sizes[0], 1.0 / sizes[0]]) > rough
        beside, size = _windows(flat, _spread(edge, near) + aside, period * row)
        by_level = level >= ratio * usual and other.mean() >= more * FOREIGN_SHARE
        by_level &= level >= ASIDE_RATIO * np.sqrt((beside**2).mean())
        # sizes scatter more than levels do, so more of the run has to be rougher or smoother
        by_size = as_rough.mean(axis=1).max() >= min(0.9, 1.5 * more * FOREIGN_SHARE)
        by_size &= abs(np.log(np.median(sizes[0]) / np.median(size))) >= np.log(ASIDE_RATIO)
        if not by_level and not by_size:
            return False
    return True


def _windows(flat: U16, at: I64, other: int) -> tuple[F32, F32]:
    """Return of some windows the mean difference to another row, by colour, and its mean size."""
    last = len(flat) - 1
    near, far = (flat[np.clip(part, 0, last)].astype(np.float32) for part in (at, at + other))
    change = near - far
    return change.reshape(len(at), -1, 2).mean(axis=1), np.abs(change).mean(axis=1) + 0.1


def empty_sectors(data: FileBytes, parts: Sequence[tuple[int, int]]) -> tuple[DamageSign, ...]:
    """Look for whole sectors of zeros within packed data, which begin and end at their borders.

    A blown sky may pack into zeros too, but its zeros end where they like.

    Parameters
    ----------
    parts : sequence of (offset, length)
        Where packed data lie in the file, in bytes.
    """
    whole = len(data) // SECTOR_BYTES
    words = np.frombuffer(data, dtype=np.uint64, count=whole * SECTOR_BYTES // 8)
    sectors = words.reshape(whole, SECTOR_BYTES // 8)
    zero = sectors[:, 0] == 0  # few begin so: most are passed over at their first bytes
    zero[zero] = ~sectors[zero].any(axis=1)
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


def cut_off(missing: float, total: float) -> tuple[DamageSign, ...]:
    """Return a sign of damage where so many bytes of a picture lie beyond the end of its file."""
    if missing < max(1.0, LEAST_MISSING * total):
        return ()
    share = min(1.0, missing / total)
    return (DamageSign(Damage.ENDS_EARLY, share, {"bytes": round(missing)}),)


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
