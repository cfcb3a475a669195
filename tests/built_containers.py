"""Files with Exif data and no picture worth the name: TIFF, CR3, RAF, MRW, X3F and CRW."""

from __future__ import annotations

import struct
from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType
from typing import Any

from auditor.model.facts import FileFacts
from auditor.read.containers import MAKER_UUID
from auditor.read.exif import read_facts
from sample_generation.tiff import (
    ASCII,
    BYTE,
    LONG,
    RATIONAL,
    SHORT,
    SRATIONAL,
    Directory,
    tiff_bytes,
)

Tags = Mapping[int, tuple[int, Any] | tuple[int, int, bytes]]
"""By number: kind and values, or kind, count and bytes as they lie in the file."""

IMAGE: Tags = {
    0x010F: (ASCII, "Brackwell"),
    0x0110: (ASCII, "Brackwell F45"),
    0x0112: (SHORT, 6),
}
EXIF: Tags = {
    0x829A: (RATIONAL, 1 / 30),
    0x829D: (RATIONAL, 11),
    0x8822: (SHORT, 1),
    0x8827: (SHORT, 100),
    0x9003: (ASCII, "2031:09:14 18:42:07"),
    0x9011: (ASCII, "+02:00"),
    0x9291: (ASCII, "05"),
    0x9201: (SRATIONAL, 5),
    0x9204: (SRATIONAL, -1 / 3),
    0x9207: (SHORT, 5),
    0x9209: (SHORT, 16),
    0x920A: (RATIONAL, 35),
    0xA405: (SHORT, 35),
    0xA431: (ASCII, "BW-0042"),
    0xA434: (ASCII, "Brackwell 24-70 mm f/4"),
}
NO_TAGS: Tags = MappingProxyType({})
GPS: Tags = {
    1: (ASCII, "N"),
    2: (RATIONAL, (54, 30, 36)),
    3: (ASCII, "W"),
    4: (RATIONAL, (3, 15, 0)),
    5: (BYTE, 0),
    6: (RATIONAL, 12),
}


def ratio(*parts: int, signed: bool = False) -> tuple[int, int, bytes]:
    """Raw ratios, 0/0 too."""
    code = "i" if signed else "I"
    kind = SRATIONAL if signed else RATIONAL
    return kind, len(parts) // 2, struct.pack(f"<{len(parts)}{code}", *parts)


def directory(tags: Tags) -> Directory:
    made = Directory()
    for tag, value in tags.items():
        if len(value) == 3:
            made.entries[tag] = value
        else:
            made.put(tag, *value)
    return made


def exif_tiff(image: Tags = IMAGE, exif: Tags | None = EXIF, gps: Tags | None = None) -> bytes:
    """A whole TIFF stream: first directory, Exif and GPS below it."""
    first = directory(image)
    if exif is not None:
        first.point(0x8769, directory(exif))
    if gps is not None:
        first.point(0x8825, directory(gps))
    return tiff_bytes(first)


def plain_tiff(tags: Tags) -> bytes:
    return tiff_bytes(directory(tags))


def facts_of(folder: Path, content: bytes, kind: str = "tiff") -> FileFacts:
    return read_facts(content, kind)


def exif_facts(folder: Path, **changes: Any) -> FileFacts:
    """Facts of a TIFF whose Exif tags are changed: ``x829A=(RATIONAL, 2)``, None takes away."""
    tags: dict[int, Any] = dict(EXIF)
    for name, value in changes.items():
        tags.pop(int(name[1:], 16), None)
        if value is not None:
            tags[int(name[1:], 16)] = value
    return facts_of(folder, exif_tiff(exif=tags))


def box(name: bytes, body: bytes, size: int | None = None) -> bytes:
    return struct.pack(">I4s", 8 + len(body) if size is None else size, name) + body


def long_box(name: bytes, body: bytes) -> bytes:
    return struct.pack(">I4sQ", 1, name, 16 + len(body)) + body


def cr3_file(
    image: Tags = IMAGE, exif: Tags = EXIF, gps: Tags = GPS, maker: Tags = NO_TAGS
) -> bytes:
    streams = {b"CMT1": image, b"CMT2": exif, b"CMT3": maker, b"CMT4": gps}
    boxes = b"".join(box(name, plain_tiff(tags)) for name, tags in streams.items())
    movie = box(b"moov", box(b"uuid", MAKER_UUID + boxes) + box(b"trak", b"\0" * 32))
    return box(b"ftyp", b"crx \0\0\0\1crx isom") + movie + long_box(b"mdat", b"\0" * 64)


def jpeg_with_exif(tiff: bytes) -> bytes:
    app0 = b"\xff\xe0" + struct.pack(">H", 16) + b"JFIF\0" + b"\0" * 9
    body = b"Exif\0\0" + tiff
    app1 = b"\xff\xe1" + struct.pack(">H", 2 + len(body)) + body
    return b"\xff\xd8" + app0 + app1 + b"\xff\xda\0\x02\xff\xd9"


def raf_file(tiff: bytes, black: tuple[int, ...] = ()) -> bytes:
    jpeg = jpeg_with_exif(tiff)
    own = Directory()
    if black:
        levels = Directory()
        levels.put(0xF00A, LONG, black)
        own.point(0xF000, levels)
    pixels = tiff_bytes(own)
    start = 160
    head = b"FUJIFILMCCD-RAW 0201FF000000".ljust(84, b"\0")
    parts = (start, len(jpeg), start + len(jpeg), 0, start + len(jpeg), len(pixels))
    return (head + struct.pack(">6I", *parts)).ljust(start, b"\0") + jpeg + pixels


def mrw_file(tiff: bytes) -> bytes:
    blocks = struct.pack(">4sI", b"\0PRD", 24) + b"\0" * 24
    blocks += struct.pack(">4sI", b"\0TTW", len(tiff)) + tiff
    return struct.pack(">4sI", b"\0MRM", len(blocks)) + blocks + b"\0" * 64


def x3f_file(sections: list[tuple[bytes, bytes]]) -> bytes:
    """Sections by name, then their directory, then where it lies."""
    body, entries = b"FOVb".ljust(40, b"\0"), b""
    for name, content in sections:
        entries += struct.pack("<II4s", len(body), len(content), name)
        body += content
    head = struct.pack("<4sII", b"SECd", 0x20000, len(sections))
    return body + head + entries + struct.pack("<I", len(body))


def x3f_picture(tiff: bytes) -> bytes:
    return b"SECi".ljust(28, b"\0") + jpeg_with_exif(tiff)


def x3f_properties(listed: Mapping[str, str]) -> bytes:
    pool, table = "", b""
    for name, value in listed.items():
        table += struct.pack("<II", len(pool), len(pool) + len(name) + 1)
        pool += f"{name}\0{value}\0"
    head = struct.pack("<4s5I", b"SECp", 0x20000, len(listed), 0, 0, len(pool))
    return head + table + pool.encode("utf-16-le")


def crw_file(make: str, model: str, seconds: int) -> bytes:
    """A heap with one heap inside, as the format nests them."""
    inner = ciff_heap([
        (0x080A, f"{make}\0{model}\0".encode()),
        (0x180E, struct.pack("<III", seconds, 0, 0)),
    ])  # fmt: skip
    outer = ciff_heap([(0x2807, inner)])
    return b"II" + struct.pack("<I", 26) + b"HEAPCCDR" + b"\0" * 12 + outer


def ciff_heap(records: list[tuple[int, bytes]]) -> bytes:
    body, entries = b"", b""
    for tag, content in records:
        entries += struct.pack("<HII", tag, len(content), len(body))
        body += content
    return body + struct.pack("<H", len(records)) + entries + struct.pack("<I", len(body))
