"""Makers' private notes: serial number, lens and focus distance, each laid out its own way.

The notes are built here as their descriptions have them (exifread's source for three makers, from
memory for the others); a reader of files that were written by cameras must still tell.
"""

from __future__ import annotations

import struct
from collections.abc import Callable

import pytest

from auditor.model.facts import FileFacts
from auditor.read.exif import read_facts
from sample_generation.tiff import ASCII, LONG, RATIONAL, UNDEFINED, Directory, tiff_bytes

MAKER_NOTE = 0x927C
Tags = dict[int, tuple[int, object]]


def entries(tags: Tags, base: int) -> bytes:
    """One directory whose offsets count so that it begins at ``base``."""
    directory = Directory()
    for tag, (kind, value) in tags.items():
        directory.put(tag, kind, value)  # type: ignore[arg-type]
    whole = bytearray(tiff_bytes(directory)[8:])
    for place in range(2, 2 + 12 * len(tags), 12):
        tag, kind, count, value = struct.unpack_from("<HHII", whole, place)
        size = count * {ASCII: 1, LONG: 4, RATIONAL: 8, UNDEFINED: 1}[kind]
        if size > 4:
            struct.pack_into("<HHII", whole, place, tag, kind, count, value - 8 + base)
    return bytes(whole)


def facts_with(note: Callable[[int], bytes], kind: str = "tiff") -> FileFacts:
    """Put a note into a small TIFF; it is told at which byte of the file it will lie."""

    def whole(content: bytes) -> bytes:
        first, exif = Directory(), Directory()
        first.put(271, ASCII, "A maker")
        exif.put(MAKER_NOTE, UNDEFINED, content)
        first.point(0x8769, exif)
        return tiff_bytes(first)

    size = len(note(0))
    mark = bytes(range(1, 200)) * (size // 199 + 1)
    at = whole(mark[:size]).index(mark[:size])
    return read_facts(whole(note(at)), kind)


def inner(at: int) -> bytes:
    """A directory with two inner ones, the first of which is serial number and lens."""
    equipment_at = at + 2 + 2 * 12 + 4
    equipment: Tags = {0x0101: (ASCII, "S1234567"), 0x0203: (ASCII, "12-40mm F2.8")}
    laid = entries(equipment, equipment_at)
    focus_at = equipment_at + len(laid)
    focus = entries({0x0305: (RATIONAL, 2500)}, focus_at)
    outer = entries({0x2010: (LONG, equipment_at), 0x2050: (LONG, focus_at)}, at)
    return outer + laid + focus


def whole_stream(_: int) -> bytes:
    tags: Tags = {0x001D: (ASCII, "S1234567"), 0x0084: (RATIONAL, (24, 70, 2.8, 2.8))}
    return b"Nikon\0\2\x10\0\0II*\0\x08\0\0\0" + entries(tags, 8)


NOTES: dict[str, tuple[Callable[[int], bytes], str | None]] = {
    "a TIFF stream of its own": (whole_stream, "24-70 mm f/2.8"),
    "offsets of the note, inner": (lambda _: b"OLYMPUS\0II\3\0" + inner(12), "12-40mm F2.8"),
    "a longer start": (lambda _: b"OM SYSTEM\0\0\0II\4\0" + inner(16), "12-40mm F2.8"),
    "offsets of the file, inner": (lambda at: b"OLYMP\0\1\0" + inner(at + 8), "12-40mm F2.8"),
    "told where it begins": (
        lambda _: b"FUJIFILM\x0c\0\0\0" + entries({0x0010: (ASCII, "S1234567")}, 12),
        None,
    ),
    "offsets of the file": (
        lambda at: (
            b"Panasonic\0\0\0"
            + entries({0x25: (ASCII, "S1234567"), 0x51: (ASCII, "LUMENA 35/1.7")}, at + 12)
        ),
        "LUMENA 35/1.7",
    ),
    "offsets of the note": (
        lambda _: b"PENTAX \0II" + entries({0x0229: (ASCII, "S1234567")}, 10),
        None,
    ),
    "offsets of the file, an order of its own": (
        lambda at: b"AOC\0II" + entries({0x0229: (ASCII, "S1234567")}, at + 6),
        None,
    ),
}


@pytest.mark.parametrize("name", NOTES)
def test_a_note_tells_serial_number_and_lens(name: str) -> None:
    note, lens = NOTES[name]
    facts = facts_with(note)
    assert facts.camera.serial == "S1234567"
    assert facts.lens.model == lens
    assert facts.lens.focus_distance_m == (2.5 if "inner" in name or "longer" in name else None)


@pytest.mark.parametrize("name", [name for name in NOTES if "offsets of the file" in name])
def test_a_converted_file_is_not_read_at_the_old_places(name: str) -> None:
    assert facts_with(NOTES[name][0], "dng") == FileFacts(camera=facts_with(bytes).camera)


@pytest.mark.parametrize("name", NOTES)
def test_a_note_that_breaks_off_tells_nothing(name: str) -> None:
    note = NOTES[name][0]
    for kept in range(4, len(note(0)), 7):
        facts = facts_with(lambda at, kept=kept: note(at)[:kept])  # type: ignore[misc]
        assert facts.camera.make == "A maker"


def test_text_that_is_none_is_no_serial_number() -> None:
    tags: Tags = {0x0229: (UNDEFINED, b"\x01\x02\xff\xfe\x80binary")}
    assert facts_with(lambda _: b"PENTAX \0II" + entries(tags, 10)).camera.serial is None
