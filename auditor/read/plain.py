"""Where samples lie in a file as they are: for breaks at the borders of a card's sectors."""

from __future__ import annotations

from auditor.defects.sectors import PlainChunk
from auditor.model.arrays import U16
from auditor.read.kinds import TIFF_KINDS
from auditor.read.tiff import Directory, OutOfBounds, open_tiff, source_in

_WIDTH, _HEIGHT, _COMPRESSION = 256, 257, 259
_STRIPS = (273, 279, 278)  # offsets, byte counts, rows of one
_TILES = (324, 325, 323, 322)  # the same, and columns of one
_PLAIN = 1


def plain_chunks(data: bytes, kind: str, stored: U16) -> list[PlainChunk]:
    """Return the strips or tiles of a picture that is stored two bytes a sample, uncompressed.

    Parameters
    ----------
    stored : array of uint16
        The whole picture as decoded.

    Returns
    -------
    list of PlainChunk
        In the order of the picture; empty for any other way of storing it.
    """
    if kind not in TIFF_KINDS or stored.ndim != 2:
        return []
    try:
        tiff = open_tiff(source_in(data))
        directories = list(tiff.directories()) if tiff else []
    except OutOfBounds:
        return []
    for directory in directories:
        chunks = _chunks(directory, *stored.shape)
        if chunks:
            return chunks
    return []


def _chunks(directory: Directory, height: int, width: int) -> list[PlainChunk]:
    wanted = {_HEIGHT: height, _WIDTH: width, _COMPRESSION: _PLAIN}
    if any(directory.number(tag) != value for tag, value in wanted.items()):
        return []
    tiled = bool(directory.numbers(_TILES[0], 1))
    offsets, counts, rows, *cols = _TILES if tiled else _STRIPS
    down = int(directory.number(rows) or height)
    across = int(directory.number(cols[0]) or width) if cols else width
    if down <= 0 or across <= 0:
        return []
    places = [(top, left) for top in range(0, height, down) for left in range(0, width, across)]
    found: list[PlainChunk] = []
    parts = zip(directory.numbers(offsets), directory.numbers(counts), strict=False)
    for (top, left), (offset, count) in zip(places, parts, strict=False):
        bottom = top + down if tiled else min(top + down, height)
        if count != 2 * (bottom - top) * across:
            return []  # packed, or padded
        if bottom <= height and left + across <= width:  # a tile over the edge is passed over
            found.append(PlainChunk(int(offset), slice(top, bottom), slice(left, left + across)))
    return found if tiled else _joined(found)


def _joined(strips: list[PlainChunk]) -> list[PlainChunk]:
    """Join strips that follow each other in the file: a strip of a few rows tells nothing."""
    joined: list[PlainChunk] = []
    for strip in strips:
        last = joined[-1] if joined else None
        if last is not None and last.cols == strip.cols and strip.rows.start == last.rows.stop:
            size = 2 * (last.rows.stop - last.rows.start) * (last.cols.stop - last.cols.start)
            if last.offset + size == strip.offset:
                rows = slice(last.rows.start, strip.rows.stop)
                joined[-1] = PlainChunk(last.offset, rows, last.cols)
                continue
        joined.append(strip)
    return joined
