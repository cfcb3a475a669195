"""TIFF directories as bytes (TIFF 6.0, little-endian): what DNG and Exif are made of."""

from __future__ import annotations

import struct
from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import TypeAlias

BYTE, ASCII, SHORT, LONG, RATIONAL, UNDEFINED, SRATIONAL, DOUBLE = 1, 2, 3, 4, 5, 7, 10, 12

_CODES = {BYTE: "B", SHORT: "H", LONG: "I", UNDEFINED: "B", DOUBLE: "d"}

Number: TypeAlias = int | float | Fraction


@dataclass(slots=True)
class Directory:
    """One image file directory, filled tag by tag; ``children`` fill the tags that point to them.

    Parameters
    ----------
    entries : dict
        Tag to (type, count, packed value).
    children : dict
        Tag to the directories it points to.
    """

    entries: dict[int, tuple[int, int, bytes]] = field(default_factory=dict)
    children: dict[int, list[Directory]] = field(default_factory=dict)

    def put(self, tag: int, kind: int, value: str | bytes | Number | Sequence[Number]) -> None:
        """Set a tag; a single number or a sequence of them, text for ASCII."""
        count, packed = _packed(kind, value)
        self.entries[tag] = (kind, count, packed)

    def point(self, tag: int, child: Directory) -> None:
        """Let a tag point to one more directory."""
        self.children.setdefault(tag, []).append(child)


def _packed(kind: int, value: str | bytes | Number | Sequence[Number]) -> tuple[int, bytes]:
    if isinstance(value, str):
        text = value.encode("utf-8") + b"\0"
        return len(text), text
    if isinstance(value, bytes):
        return len(value), value
    numbers = [value] if isinstance(value, int | float | Fraction) else list(value)
    if kind in (RATIONAL, SRATIONAL):
        code = "I" if kind == RATIONAL else "i"
        packed = b"".join(_fraction(number, code) for number in numbers)
    else:
        packed = struct.pack(f"<{len(numbers)}{_CODES[kind]}", *numbers)
    return len(numbers), packed


def _fraction(number: Number, code: str) -> bytes:
    exact = Fraction(number).limit_denominator(1_000_000)
    return struct.pack(f"<2{code}", exact.numerator, exact.denominator)


def tiff_bytes(first: Directory, between: bytes = b"") -> bytes:
    """Lay down a header, the first directory and all directories below it.

    Offsets count from the start of the file. Next-directory links are zero.

    Parameters
    ----------
    between : bytes
        What a maker writes between the header and the first directory.
    """
    places: dict[int, int] = {}
    order = _all_directories(first)
    begin = end = 8 + len(between)
    for directory in order:
        places[id(directory)] = end
        end += _size(directory)
    body = b"".join(_directory_bytes(each, places) for each in order)
    return b"II*\0" + struct.pack("<I", begin) + between + body


def _all_directories(first: Directory) -> list[Directory]:
    found = [first]
    for directory in found:  # grows while it is walked: children follow their parents
        for children in directory.children.values():
            found.extend(children)
    return found


def _table(directory: Directory, places: dict[int, int]) -> list[tuple[int, int, int, bytes]]:
    rows = [(tag, *entry) for tag, entry in directory.entries.items()]
    for tag, children in directory.children.items():
        offsets = [places.get(id(child), 0) for child in children]
        rows.append((tag, LONG, *_packed(LONG, offsets)))
    return sorted(rows)


def _size(directory: Directory) -> int:
    rows = _table(directory, {})
    return 6 + 12 * len(rows) + sum(_even(len(row[3])) for row in rows if len(row[3]) > 4)


def _even(size: int) -> int:
    return size + size % 2


def _directory_bytes(directory: Directory, places: dict[int, int]) -> bytes:
    rows = _table(directory, places)
    beyond = places[id(directory)] + 6 + 12 * len(rows)
    table, outside = [struct.pack("<H", len(rows))], []
    for tag, kind, count, packed in rows:
        if len(packed) <= 4:
            table.append(struct.pack("<HHI4s", tag, kind, count, packed))
            continue
        table.append(struct.pack("<HHII", tag, kind, count, beyond))
        outside.append(packed + b"\0" * (len(packed) % 2))
        beyond += len(outside[-1])
    return b"".join(table) + b"\0\0\0\0" + b"".join(outside)
