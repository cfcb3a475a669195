"""What kind of file it is, told by content: the first bytes, and for TIFF the directories.

Standard library only: the parent process runs it for every file of a card. Magic numbers after
the published descriptions of the containers; tags of DNG after the DNG specification 1.7,
photometric interpretations after TIFF/EP (ISO 12234-2).
"""

from __future__ import annotations

from typing import BinaryIO

from auditor.read.tiff import Directory, OutOfBounds, Tiff, open_tiff, source_of

RAW_SUFFIXES = frozenset({
    ".3fr", ".ari", ".arw", ".bay", ".cr2", ".cr3", ".crw", ".dcr", ".dcs", ".dng", ".erf",
    ".fff", ".gpr", ".iiq", ".k25", ".kdc", ".mdc", ".mef", ".mos", ".mrw", ".nef", ".nrw",
    ".orf", ".ori", ".pef", ".ptx", ".raf", ".raw", ".rw2", ".rwl", ".rwz", ".sr2", ".srf",
    ".srw", ".x3f",
})  # fmt: skip
"""Suffixes that promise a raw file: what bears one and is none is told as a problem."""

TIFF_KINDS = frozenset({"dng", "cr2", "iiq", "orf", "rw2", "tiff"})
"""Kinds laid out as TIFF directories from the first byte on."""

_STARTS: tuple[tuple[int, bytes, str], ...] = (
    (0, b"FUJIFILMCCD-RAW", "raf"),
    (0, b"\0MRM", "mrw"),
    (0, b"FOVb", "x3f"),
    (6, b"HEAPCCDR", "crw"),
    (0, b"IIRO", "orf"),
    (0, b"IIRS", "orf"),
    (0, b"MMOR", "orf"),
    (0, b"IIU\0", "rw2"),
    (25, b"ARECOYK", "contax"),
)
_TIFF_STARTS = (b"II*\0", b"MM\0*")
BIG_TIFF_STARTS = (b"II+\0", b"MM\0+")
_RESOURCE_FORK = b"\0\x05\x16\x07"

_DNG_VERSION, _PHOTOMETRIC, _COMPRESSION = 50706, 262, 259
_CFA_PATTERN = 33422
_CFA, _LINEAR_RAW = 32803, 34892
_RAW_COMPRESSIONS = frozenset({32767, 32769, 32770, 34713, 65000, 65024, 65535})
"""Makers' own compressions of sensor data (as the decoder's source names them)."""

HEAD_BYTES = 64


def kind_of(stream: BinaryIO) -> str | None:
    """Tell the container of an open file.

    Returns
    -------
    str or None
        "dng", "cr2", "cr3", "raf" and so on; "tiff" for another TIFF that holds sensor data;
        "picture" for a TIFF that shows no sign of it; None for all else.
    """
    source = source_of(stream)
    try:
        head = source.read(0, min(HEAD_BYTES, source.size))
    except OutOfBounds:
        return None
    for offset, magic, kind in _STARTS:
        if head.startswith(magic, offset):
            return kind
    if head[4:8] == b"ftyp" and b"crx " in (head[8:12], head[16:20], head[20:24]):
        return "cr3"
    tiff = open_tiff(source) if head[:4] in _TIFF_STARTS else None
    return _tiff_kind(tiff, head) if tiff else None


def is_resource_fork(head: bytes) -> bool:
    """Tell the companion files that one system leaves beside every file of a foreign card."""
    return head.startswith(_RESOURCE_FORK)


def other_kind(head: bytes) -> str | None:
    """Name what a file is that is surely no raw file; None where its first bytes do not tell."""
    for magic, name in (
        (b"\xff\xd8\xff", "a JPEG picture"),
        (b"\x89PNG", "a PNG picture"),
        (b"GIF8", "a GIF picture"),
        (b"%PDF", "a PDF document"),
        (b"PK\x03\x04", "a ZIP archive"),
        (b"<?xml", "an XML text"),
        (b"<!DOC", "a web page"),
        (b"<html", "a web page"),
        (b"RIFF", "a film, a sound or a web picture"),
        (_RESOURCE_FORK, "what another system left beside a picture, not the picture"),
    ):
        if head.startswith(magic):
            return name
    return "a film or a picture of another kind" if head[4:8] == b"ftyp" else None


def _tiff_kind(tiff: Tiff, head: bytes) -> str:
    if head[8:10] == b"CR":
        return "cr2"
    if head[8:12] in (b"IIII", b"MMMM"):
        return "iiq"
    directories = list(tiff.directories())
    if any(_DNG_VERSION in directory for directory in directories[:1]):
        return "dng"
    return "tiff" if any(holds_sensor_data(found) for found in directories) else "picture"


def holds_sensor_data(directory: Directory) -> bool:
    """Tell whether a directory describes sensor data rather than a picture."""
    return (
        directory.number(_PHOTOMETRIC) in (_CFA, _LINEAR_RAW)
        or directory.number(_COMPRESSION) in _RAW_COMPRESSIONS
        or _CFA_PATTERN in directory
    )
