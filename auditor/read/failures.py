"""What an error of the system or of the decoder means for one file: a code and what to do.

What stands behind a decoder's error is told from the file itself: whether it ends before its
picture does, and how that is compressed. Numbers of compressions after TIFF 6.0, the DNG
specification 1.7 and SMPTE ST 2073 (VC-5).
"""

from __future__ import annotations

import errno
import struct

from auditor.model.errors import UnreadableFile
from auditor.read.containers import box_heads
from auditor.read.kinds import TIFF_KINDS, holds_sensor_data
from auditor.read.tiff import SUB_IFDS, OutOfBounds, open_tiff, source_in
from auditor.words import unread

_CHUNKS = ((273, 279), (324, 325), (513, 514))
"""Offsets and byte counts of strips, of tiles, and of a JPEG picture."""

_RAF_PARTS = (84, 92, 100)
_COMPRESSION, _WIDTH, _HEIGHT = 259, 256, 257
_NAMES = {
    1: "plain samples",
    5: "LZW",
    7: "lossless JPEG",
    8: "deflate",
    9: "VC-5",
    32773: "PackBits",
    32946: "deflate",
    34712: "JPEG 2000",
    34892: "8-bit JPEG",
    34927: "WebP",
    50000: "Zstandard",
    52546: "JPEG XL",
}
_READ = frozenset({1, 7, 8, 32946, 34892, 52546})
"""Known here: where such a file cannot be read, its compression is not why."""


def failure_of(error: OSError) -> UnreadableFile:
    """Return what an error of the system means for a file."""
    if error.errno in (errno.EACCES, errno.EPERM):
        return unread.NOT_ALLOWED.error()
    if error.errno in (errno.ENOENT, errno.ENOTDIR):
        return unread.GONE.error()
    if error.errno == errno.ELOOP:
        return unread.RING.error()
    return unread.INPUT_ERROR.error(what=error.strerror or type(error).__name__)


_MEANINGS = {
    "LibRawFileUnsupportedError": unread.UNKNOWN_KIND,
    "LibRawIOError": unread.CUT_OFF,
    "LibRawDataError": unread.DATA_DAMAGED,
    "LibRawTooBigError": unread.TOO_LARGE,
    "LibRawMemPoolOverflowError": unread.MORE_MEMORY,
    "LibRawUnsufficientMemoryError": unread.MORE_MEMORY,
}


def decoder_failure(name: str, data: bytes, kind: str) -> UnreadableFile:
    """Return what an error of the decoder means.

    Parameters
    ----------
    name : str
        The name of its class.
    data : bytes
        The whole file: it is asked whether it ends too early, and how it is compressed.
    """
    error = _MEANINGS.get(name, unread.NOT_DECODED).error()
    if error.code not in ("unsupported", "damaged"):
        return error
    error = unread.CUT_OFF.error() if ends_early(data, kind) else error
    return (unknown_compression(data, kind) if error.code != "cut-off" else None) or error


def ends_early(data: bytes, kind: str) -> bool:
    """Tell whether parts of the picture lie beyond the end of the file, by the lengths it holds.

    Returns
    -------
    bool
        False also where the container does not tell.
    """
    source = source_in(data)
    parts: list[tuple[float, float]] = []
    try:
        if kind == "raf":
            parts += [struct.unpack(">II", source.read(at, 8)) for at in _RAF_PARTS]
        elif kind == "cr3":
            parts += [(begin, end - begin) for _, begin, end in box_heads(source)]
        elif kind in TIFF_KINDS and (tiff := open_tiff(source)) is not None:
            for directory in tiff.directories():
                parts += [(offset, 1) for offset in directory.numbers(SUB_IFDS, 32)]
                for offsets, counts in _CHUNKS:
                    told = directory.numbers(offsets), directory.numbers(counts)
                    parts += zip(*told, strict=False)
    except (OutOfBounds, struct.error):
        return False
    return any(offset + count > len(data) for offset, count in parts)


def unknown_compression(data: bytes, kind: str) -> UnreadableFile | None:
    """Return what to say of a file that is compressed in a way not known here.

    Returns
    -------
    UnreadableFile or None
        None where the compression is not what stands in the way, or cannot be told.
    """
    tiff = open_tiff(source_in(data)) if kind in TIFF_KINDS else None
    found = [one for one in tiff.directories() if holds_sensor_data(one)] if tiff else []
    largest = max(
        found, key=lambda one: (one.number(_WIDTH) or 0) * (one.number(_HEIGHT) or 0), default=None
    )
    number = None if largest is None else next(iter(largest.whole(_COMPRESSION)), None)
    if number is None or number in _READ:
        return None
    name = _NAMES.get(number)
    told = f"{name} (compression {number})" if name else f"compression {number}"
    return unread.COMPRESSION.error(told=told)
