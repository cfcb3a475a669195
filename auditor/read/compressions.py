"""What a TIFF-like file's compression tag says, for files that no decoder here reads.

Numbers after TIFF 6.0, the DNG specification 1.7 and SMPTE ST 2073 (VC-5).
"""

from __future__ import annotations

from auditor.model.errors import UnreadableFile
from auditor.read.kinds import TIFF_KINDS, holds_sensor_data
from auditor.read.tiff import open_tiff, source_in

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


def unknown_compression(data: bytes, kind: str) -> UnreadableFile | None:
    """Return what to say of a file that is compressed in a way not known here.

    Returns
    -------
    UnreadableFile or None
        None where the compression is not what stands in the way, or cannot be told.
    """
    number = _compression(data) if kind in TIFF_KINDS else None
    if number is None or number in _READ:
        return None
    name = _NAMES.get(number)
    told = f"{name} (compression {number})" if name else f"compression {number}"
    return UnreadableFile(
        "unsupported",
        f"The picture is stored as {told}, which no decoder here knows. The file may well be "
        "whole: convert it to a DNG with lossless compression, and audit that.",
    )


def _compression(data: bytes) -> int | None:
    """Return the compression of the largest picture that holds sensor data."""
    tiff = open_tiff(source_in(data))
    found = [one for one in tiff.directories() if holds_sensor_data(one)] if tiff else []
    largest = max(
        found,
        key=lambda one: (one.number(_WIDTH) or 0) * (one.number(_HEIGHT) or 0),
        default=None,
    )
    return None if largest is None else next(iter(largest.whole(_COMPRESSION)), None)
