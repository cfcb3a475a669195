"""Finding the Exif data inside containers that are no TIFF: CR3, RAF, MRW, X3F.

Each maker wraps the same TIFF streams in boxes of its own. Only offsets and lengths are told
here; every one is checked against the file, and a walk takes a bounded number of steps.

Layouts, after published descriptions of the containers: CR3 is an ISO base media file (ISO/IEC
14496-12) with ``moov`` > ``uuid`` > ``CMT1`` to ``CMT4``; RAF holds a whole JPEG, offset and
length big-endian at 84; MRW holds a block ``TTW``; X3F holds JPEG pictures.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from auditor.model.arrays import F64, FileBytes
from auditor.read.kinds import TIFF_KINDS
from auditor.read.tiff import OutOfBounds, Source, open_tiff, source_in

MAKER_UUID = bytes.fromhex("85c0b687820f11e08111f4ce462b6a48")
MOST_STEPS = 256
X3F_SEARCH_BYTES = 1 << 20


@dataclass(frozen=True, slots=True)
class Streams:
    """TIFF streams found in one file, each a window of its own; None where there is none.

    Parameters
    ----------
    image : Source or None
        First directory; its pointers lead to the others where those are None.
    exif, maker, gps : Source or None
        Streams of their own (CR3 only).
    """

    image: Source | None = None
    exif: Source | None = None
    maker: Source | None = None
    gps: Source | None = None


def find_streams(source: Source, kind: str) -> Streams:
    """Find the TIFF streams of a file of the given kind; empty where there are none."""
    if kind in TIFF_KINDS:
        return Streams(source)
    try:
        if kind == "cr3":
            found: dict[bytes, Source] = {}
            movie = next((body for name, body in boxes(source) if name == b"moov"), None)
            for name, body in boxes(movie) if movie is not None else ():
                if name == b"uuid" and body.read(0, 16) == MAKER_UUID:
                    found.update(boxes(body.window(16, body.size - 16)))
            return Streams(*(found.get(name) for name in (b"CMT1", b"CMT2", b"CMT3", b"CMT4")))
        if kind == "raf":
            offset, length = struct.unpack(">II", source.read(84, 8))
            # a file cut off in its JPEG still holds the Exif at its beginning
            jpeg = source.window(offset, min(length, max(0, source.size - offset)))
            return Streams(exif_in_jpeg(jpeg))
        finder = {"mrw": _in_mrw, "x3f": _in_x3f}.get(kind)
        return Streams(finder(source) if finder else None)
    except (OutOfBounds, struct.error):
        return Streams()


def box_heads(source: Source) -> Iterator[tuple[bytes, int, int]]:
    """Yield the boxes of an ISO base media file: name, where the body begins, where it ends.

    A size of 1 means that eight bytes of size follow, 0 that the box is the last one. The last
    one told may reach beyond the window, where a file was cut off.
    """
    at = 0
    for _ in range(MOST_STEPS):
        if at >= source.size:
            return
        if at + 8 > source.size:
            yield b"", at, at + 8
            return
        size, name = struct.unpack(">I4s", source.read(at, 8))
        head = 8
        if size == 1:
            size, head = struct.unpack(">Q", source.read(at + 8, 8))[0], 16
        elif size == 0:
            size = source.size - at
        if size < head:
            return
        yield name, at + head, at + size
        at += size


def boxes(source: Source) -> Iterator[tuple[bytes, Source]]:
    """Yield the boxes of an ISO base media file that are whole: name and body."""
    for name, begin, end in box_heads(source):
        if end <= source.size:
            yield name, source.window(begin, end - begin)


def exif_in_jpeg(jpeg: Source) -> Source | None:
    """Return the TIFF stream in the Exif segment of a JPEG, or None."""
    if jpeg.read(0, 2) != b"\xff\xd8":
        return None
    at = 2
    for _ in range(MOST_STEPS):
        marker, length = struct.unpack(">HH", jpeg.read(at, 4))
        if marker == 0xFFE1 and jpeg.read(at + 4, 6) == b"Exif\0\0":
            return jpeg.window(at + 10, min(length - 8, jpeg.size - at - 10))
        # segments end where the picture's data begin (SOS) or a marker is none
        if marker == 0xFFDA or marker < 0xFFC0 or length < 2:
            return None
        at += 2 + length
    return None


def _in_mrw(source: Source) -> Source | None:
    end = 8 + struct.unpack(">I", source.read(4, 4))[0]
    at = 8
    for _ in range(MOST_STEPS):
        if at + 8 > min(end, source.size):
            return None
        name, length = struct.unpack(">4sI", source.read(at, 8))
        if name == b"\0TTW":
            return source.window(at + 8, min(length, source.size - at - 8))
        at += 8 + length
    return None


def _in_x3f(source: Source) -> Source | None:
    """Find the first JPEG with Exif: by the directory of sections, else near the beginning."""
    for name, section in x3f_sections(source):
        if name in (b"IMAG", b"IMA2") and section.size > 28:
            found = _first_exif(section.window(28, section.size - 28))
            if found is not None:
                return found
    head = source.read(0, min(source.size, X3F_SEARCH_BYTES))
    at = head.find(b"\xff\xd8\xff\xe1")
    return _first_exif(source.window(at, source.size - at)) if at >= 0 else None


def _first_exif(body: Source) -> Source | None:
    try:
        return exif_in_jpeg(body)
    except OutOfBounds:
        return None


def x3f_sections(source: Source) -> Iterator[tuple[bytes, Source]]:
    """Yield the sections that the directory at the end of an X3F file tells of."""
    try:
        at = struct.unpack("<I", source.read(source.size - 4, 4))[0]
        name, _, count = struct.unpack("<4sII", source.read(at, 12))
        if name != b"SECd":
            return
        for step in range(min(count, MOST_STEPS)):
            offset, length, kind = struct.unpack("<II4s", source.read(at + 12 + 12 * step, 12))
            yield kind, source.window(offset, length)
    except OutOfBounds:
        return


_PIXELS_AT = 100
_DIRECTORY, _BLACK = 0xF000, 0xF00A
_SHAPES = {36: (6, 6), 4: (2, 2)}


def raf_black(data: FileBytes) -> F64 | None:
    """Return the levels, 6 x 6 or 2 x 2 from the top-left visible pixel; None if not told."""
    try:
        source = source_in(data)
        offset, length = struct.unpack(">II", source.read(_PIXELS_AT, 8))
        tiff = open_tiff(source.window(offset, min(length, source.size - offset)))
        first = tiff.first() if tiff else None
        if tiff is None or first is None:
            return None
        own = tiff.directory(first.offset(_DIRECTORY))
        levels = own.numbers(_BLACK, 36) if own is not None else ()
    except (OutOfBounds, struct.error):
        return None
    if len(levels) not in _SHAPES or not all(0 <= level < 65536 for level in levels):
        return None
    return np.array(levels, dtype=np.float64).reshape(_SHAPES[len(levels)])
