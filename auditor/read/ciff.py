"""The few facts that a CRW file (CIFF) tells plainly: body, time, owner's exposure aside.

A CIFF heap is a block that ends in the offset of its directory; entries of ten bytes name a
record by type, length and offset, and some records are heaps again. Layout after the CIFF
specification, version 1.0. The exposure itself is left to the decoder, which knows the bodies.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator

from auditor.model.facts import CameraFacts, FileFacts
from auditor.read.exif_moment import moment_of_seconds
from auditor.read.exif_tags import clean
from auditor.read.tiff import OutOfBounds, Source

MAKE_MODEL, CAPTURED_TIME = 0x080A, 0x180E
_IN_ENTRY = 0x4000
_HEAP_KINDS = (0x2800, 0x3000)
MOST_HEAPS = 32
MOST_ENTRIES = 512


def ciff_facts(source: Source) -> FileFacts:
    """Read body and time; empty facts where the heap is damaged."""
    make = model = moment = None
    try:
        for tag, body in records(source):
            if tag == MAKE_MODEL:
                texts = body.read(0, min(body.size, 128)).split(b"\0")
                make, model = (clean(one.decode("ascii", "replace")) for one in (*texts, b"")[:2])
            elif tag == CAPTURED_TIME and body.size >= 4:
                moment = moment_of_seconds(struct.unpack("<I", body.read(0, 4))[0])
    except (OutOfBounds, struct.error):
        pass
    return FileFacts(camera=CameraFacts(make=make, model=model), captured_at=moment)


def records(source: Source) -> Iterator[tuple[int, Source]]:
    """Yield the records of all heaps: type with its storage bits off, and the bytes."""
    start = struct.unpack("<I", source.read(2, 4))[0]
    waiting = [source.window(start, source.size - start)]
    for _ in range(MOST_HEAPS):
        if not waiting:
            return
        heap = waiting.pop(0)
        at = struct.unpack("<I", heap.read(heap.size - 4, 4))[0]
        count = struct.unpack("<H", heap.read(at, 2))[0]
        for step in range(min(count, MOST_ENTRIES)):
            place = at + 2 + 10 * step
            tag, length, offset = struct.unpack("<HII", heap.read(place, 10))
            inside = tag & _IN_ENTRY
            body = heap.window(place + 2, 8) if inside else heap.window(offset, length)
            if tag & 0x3800 in _HEAP_KINDS:
                waiting.append(body)
            else:
                yield tag & 0x3FFF, body
