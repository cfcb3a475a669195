"""Where samples lie in a file as they are: for breaks at the borders of a card's sectors."""

from __future__ import annotations

from auditor.defects.sectors import PlainChunk
from auditor.model.arrays import U16, FileBytes
from auditor.read.dng.tags import PLAIN, chunks_of
from auditor.read.kinds import TIFF_KINDS
from auditor.read.tiff import open_tiff, source_in

_WIDTH, _HEIGHT, _COMPRESSION = 256, 257, 259


def plain_chunks(data: FileBytes, kind: str, stored: U16) -> list[PlainChunk]:
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
    tiff = open_tiff(source_in(data)) if kind in TIFF_KINDS and stored.ndim == 2 else None
    height, width = stored.shape[:2]
    wanted = {_HEIGHT: height, _WIDTH: width, _COMPRESSION: PLAIN}
    for directory in tiff.directories() if tiff is not None else ():
        chunks = chunks_of(directory, height, width)
        if chunks is None or any(directory.number(tag) != value for tag, value in wanted.items()):
            continue
        down, across = chunks.height, chunks.width
        places = [(top, left) for top in range(0, height, down) for left in range(0, width, across)]
        found: list[PlainChunk] = []
        for (top, left), (offset, count) in zip(places, chunks.parts, strict=False):
            # tiles are always whole, the last strip is not
            bottom = min(top + down, height) if across == width else top + down
            if count != 2 * (bottom - top) * across:
                break  # packed, or padded
            if bottom <= height and left + across <= width:  # a tile over the edge is passed over
                rows, cols = slice(top, bottom), slice(left, left + across)
                found.append(PlainChunk(offset, rows, cols))
        else:
            return found if across < width else _joined(found)
    return []


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
