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


def failure_of(error: OSError) -> tuple[str, str]:
    """Return the failure code for an error of the system, and what to say of it."""
    if error.errno in (errno.EACCES, errno.EPERM):
        return "no-permission", "It may not be read. Change its permissions."
    if error.errno in (errno.ENOENT, errno.ENOTDIR):
        return "vanished", "It is gone. Was the card taken out?"
    if error.errno == errno.ELOOP:
        return "vanished", "It is a link that leads to itself. Remove it."
    what = error.strerror or type(error).__name__
    return "input-error", f"It could not be read ({what}). Try the card in another reader."


_MORE_MEMORY = (
    "Decoding needed more memory than it may take. Raise memory_limit_mb under [measure] in the "
    "settings."
)
_MEANINGS = {
    "LibRawFileUnsupportedError": (
        "unsupported",
        "The decoder does not know this kind of file, or its beginning is damaged.",
    ),
    "LibRawIOError": (
        "cut-off",
        "The file ends before its picture does, or points outside itself. Copy it from the card "
        "again.",
    ),
    "LibRawDataError": (
        "damaged",
        "The picture data are damaged. Copy the file from the card again.",
    ),
    "LibRawTooBigError": (
        "too-large",
        "The picture is larger than the decoder holds. If its true size is not so large, its "
        "header is damaged.",
    ),
    "LibRawMemPoolOverflowError": (
        "out-of-memory",
        _MORE_MEMORY,
    ),
    "LibRawUnsufficientMemoryError": ("out-of-memory", _MORE_MEMORY),
}
_OTHERWISE = "damaged", "The decoder cannot read the picture. Copy the file from the card again."


def ends_too_early() -> UnreadableFile:
    """Return what it means that a part of the picture lies beyond the end of the file."""
    return UnreadableFile(*_MEANINGS["LibRawIOError"])


def decoder_failure(name: str, data: bytes, kind: str) -> UnreadableFile:
    """Return what an error of the decoder means.

    Parameters
    ----------
    name : str
        The name of its class.
    data : bytes
        The whole file: it is asked whether it ends too early, and how it is compressed.
    """
    code, message = _MEANINGS.get(name, _OTHERWISE)
    if code in ("unsupported", "damaged") and ends_early(data, kind):
        code, message = _MEANINGS["LibRawIOError"]
    unknown = unknown_compression(data, kind) if code in ("unsupported", "damaged") else None
    return unknown or UnreadableFile(code, message)


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
    return UnreadableFile(
        "unsupported",
        f"The picture is stored as {told}, which no decoder here knows. The file may well be "
        "whole: convert it to a DNG with lossless compression, and audit that.",
    )
