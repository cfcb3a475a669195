"""Does a file end before its picture does? Told from the offsets and lengths it holds."""

from __future__ import annotations

import struct

from auditor.read.kinds import TIFF_KINDS
from auditor.read.tiff import SUB_IFDS, Directory, OutOfBounds, Source, open_tiff, source_in

_CHUNKS = ((273, 279), (324, 325), (513, 514))
"""Offsets and byte counts of strips, of tiles, and of a JPEG picture."""
_RAF_PARTS = (84, 92, 100)
MOST_BOXES = 64


def ends_early(data: bytes, kind: str) -> bool:
    """Tell whether parts of the picture lie beyond the end of the file.

    Returns
    -------
    bool
        False also where the container does not tell.
    """
    try:
        source = source_in(data)
        if kind in TIFF_KINDS:
            tiff = open_tiff(source)
            found = tiff.directories() if tiff is not None else ()
            return any(_reaches_beyond(directory, source.size) for directory in found)
        if kind == "cr3":
            return _boxes_end_early(source)
        parts = [struct.unpack(">II", source.read(at, 8)) for at in _RAF_PARTS if kind == "raf"]
        return any(offset + length > source.size for offset, length in parts)
    except (OutOfBounds, struct.error):
        return False


def _reaches_beyond(directory: Directory, size: int) -> bool:
    if any(offset >= size for offset in directory.numbers(SUB_IFDS, 32)):
        return True
    for offsets, counts in _CHUNKS:
        ends = zip(directory.numbers(offsets), directory.numbers(counts), strict=False)
        if any(offset + count > size for offset, count in ends):
            return True
    return False


def _boxes_end_early(source: Source) -> bool:
    at = 0
    for _ in range(MOST_BOXES):
        if at + 8 > source.size:
            return at != source.size
        length = struct.unpack(">I", source.read(at, 4))[0]
        if length == 1:
            length = struct.unpack(">Q", source.read(at + 8, 8))[0]
        if length < 8:  # 0: to the end of the file
            return False
        at += length
    return False
