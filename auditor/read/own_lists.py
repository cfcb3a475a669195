"""What CRW and X3F files list of themselves, in containers of their own, where there is no Exif.

A CIFF heap (CRW) is a block that ends in the offset of its directory; entries of ten bytes name a
record by type, length and offset, and some records are heaps again. Layout after the CIFF
specification, version 1.0. The exposure itself is left to the decoder, which knows the bodies.

The property list of an X3F file holds names and values: a section ``SECp`` of pairs of offsets
into a pool of UTF-16 texts, each ended by a zero; after the published description.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator

from auditor.model.codes import TimeSource
from auditor.model.facts import CameraFacts, ExposureFacts, FileFacts, LensFacts
from auditor.read.containers import x3f_sections
from auditor.read.exif_tags import clean, moment_of_seconds, shutter_time
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


MOST_PROPERTIES = 512
_HEAD_BYTES = 24


def x3f_facts(source: Source) -> FileFacts:
    """Read what the property list tells; empty facts where there is none."""
    listed = x3f_properties(source)
    # SHUTTER is the time that was set, in seconds; EXPTIME the microseconds for which the sensor
    # integrated, longer by its reset, and only asked where the other is absent
    nominal_s, time_us = _number(listed, "SHUTTER"), _number(listed, "EXPTIME")
    time_s, told_by = shutter_time(nominal_s, None)
    if nominal_s is None and time_us is not None:
        nominal_s, time_s, told_by = time_us / 1e6, time_us / 1e6, TimeSource.TAG
    return FileFacts(
        camera=CameraFacts(
            make=clean(listed.get("CAMMANUF", "")),
            model=clean(listed.get("CAMMODEL", "")),
            serial=clean(listed.get("CAMSERIAL", "")),
        ),
        lens=LensFacts(focal_mm=_number(listed, "FLENGTH"), focal_35mm=_number(listed, "FLEQ35MM")),
        exposure=ExposureFacts(
            time_s=time_s,
            time_source=told_by,
            nominal_time_s=nominal_s,
            f_number=_number(listed, "APERTURE"),
            iso=_number(listed, "ISO"),
        ),
        captured_at=moment_of_seconds(_number(listed, "TIME")),
    )


def x3f_properties(source: Source) -> dict[str, str]:
    """Return the property list; empty where there is none or it is damaged."""
    section = next((body for name, body in x3f_sections(source) if name == b"PROP"), None)
    if section is None:
        return {}
    try:
        magic, _, count, coding = struct.unpack("<4sIII", section.read(0, 16))
        if magic != b"SECp" or coding != 0 or count > MOST_PROPERTIES:
            return {}
        table = section.read(_HEAD_BYTES, 8 * count)
        start = _HEAD_BYTES + 8 * count
        pool = section.read(start, min(section.size - start, 1 << 20))
    except (OutOfBounds, struct.error):
        return {}
    pairs = struct.iter_unpack("<II", table)
    return {_text(pool, name): _text(pool, value) for name, value in pairs}


def _text(pool: bytes, character: int) -> str:
    """Return the text that begins at a character of the pool."""
    text = pool[2 * character : 2 * character + 512].decode("utf-16-le", "replace")
    return text.split("\0", 1)[0]


def _number(listed: dict[str, str], name: str) -> float | None:
    try:
        value = float(listed.get(name, ""))
    except ValueError:
        return None
    return value if 0 < value < 1e12 else None
