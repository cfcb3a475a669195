"""What an error of the system or of the decoder means for one file: a code and what to do.

What stands behind a decoder's error is told from the file itself: whether it ends before its
picture does, and how that is compressed. Numbers of compressions after TIFF 6.0, the DNG
specification 1.7 and SMPTE ST 2073 (VC-5); MRW after a published description
(dalibor.cz/software/minolta-raw-mrw-file-format), the tags of RW2 from memory.
"""

from __future__ import annotations

import errno
import struct
from collections.abc import Iterator, Sequence

from auditor.model.arrays import FileBytes
from auditor.model.errors import UnreadableFile
from auditor.read.containers import box_heads, x3f_sections
from auditor.read.kinds import TIFF_KINDS, holds_sensor_data
from auditor.read.tiff import (
    SUB_IFDS,
    Directory,
    OutOfBounds,
    Source,
    open_tiff,
    source_in,
)
from auditor.words import unread

_CHUNKS = ((273, 279), (324, 325), (513, 514))
"""Offsets and byte counts of strips, of tiles, and of a JPEG picture."""

_RAF_PARTS = (84, 92, 100)
_RAW_DATA, _ELSEWHERE = 280, (float(0xFFFFFFFF),)
"""Of RW2: the tag that tells where the pixels lie, and the strip offset that says so."""

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
"""Known here of DNG: where such a file cannot be read, its compression is not why."""

_NO_DECODER = frozenset({9, 34712, 34927, 50000, 52546})
"""Of another container. Makers have numbers of their own there, of which the decoder knows most."""


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


def decoder_failure(name: str, data: FileBytes, kind: str) -> UnreadableFile:
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


def ends_early(data: FileBytes, kind: str) -> bool:
    """Tell whether parts of the picture lie beyond the end of the file, by the lengths it holds.

    Returns
    -------
    bool
        False also where the container does not tell.
    """
    return any(begin + count > len(data) for parts in _parts(data, kind) for begin, count in parts)


def beyond_end(data: FileBytes, kind: str) -> tuple[float, float]:
    """Return how many bytes of the largest picture lie beyond the end, and how many it has."""
    parts = max(_parts(data, kind), key=lambda one: sum(count for _, count in one), default=[])
    missing = (min(count, max(0.0, begin + count - len(data))) for begin, count in parts)
    return sum(missing), sum(count for _, count in parts)


_Parts = Sequence[tuple[float, float]]
"""Where the parts of one picture begin, and their lengths in bytes."""


def _parts(data: FileBytes, kind: str) -> list[_Parts]:
    """Return what a file says of where its pictures lie; empty where it does not."""
    source = source_in(data)
    found: list[_Parts] = []
    try:
        if kind == "raf":
            found += [[struct.unpack(">II", source.read(at, 8))] for at in _RAF_PARTS]
        elif kind == "cr3":
            found += [[(begin, end - begin)] for _, begin, end in box_heads(source)]
        elif kind == "mrw":
            # behind the blocks, of which the first tells size and bits stored
            height, width = struct.unpack(">HH", source.read(24, 4))
            (head,) = struct.unpack(">I", source.read(4, 4))
            found.append([(8 + head, height * width * source.read(32, 1)[0] / 8)])
        elif kind == "crw":
            found.append([_crw_table(source)])
        elif kind == "x3f" and not any(x3f_sections(source)):
            found.append([(len(data), 1)])  # the directory of its sections comes last
        elif kind in TIFF_KINDS and (tiff := open_tiff(source)) is not None:
            found += [part for one in tiff.directories() for part in _tiff_parts(one, kind)]
    except (OutOfBounds, struct.error):
        return []
    return found


def _tiff_parts(directory: Directory, kind: str) -> Iterator[_Parts]:
    """Yield those of one directory, and where those below it begin."""
    yield from ([(offset, 1)] for offset in directory.numbers(SUB_IFDS, 32))
    for offsets, counts in _CHUNKS:
        begins = directory.numbers(offsets)
        if kind == "rw2" and begins == _ELSEWHERE:
            begins = directory.numbers(_RAW_DATA, 1)
        yield list(zip(begins, directory.numbers(counts), strict=False))


def _crw_table(source: Source) -> tuple[float, float]:
    """Return where the table of the outermost heap lies, which the last bytes of all tell."""
    (heap,) = struct.unpack("<I", source.read(2, 4))
    (table,) = struct.unpack("<I", source.read(source.size - 4, 4))
    whole = heap + table + 2 <= source.size
    (count,) = struct.unpack("<H", source.read(heap + table, 2)) if whole else (0,)
    return heap + table, 2 + 10 * count + 4


def unknown_compression(data: FileBytes, kind: str) -> UnreadableFile | None:
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
    if number is None or (number in _READ if kind == "dng" else number not in _NO_DECODER):
        return None
    name = _NAMES.get(number)
    told = f"{name} (compression {number})" if name else f"compression {number}"
    return unread.COMPRESSION.error(told=told)
