"""Directories of TIFF-like files, read within bounds: kinds, tags of a DNG, the XMP packet.

Every offset and count is checked against the file, loops end, and only the tags asked for are
read, so a hostile file costs no more than a sound one. Source of the layout: TIFF 6.0, section 2.
BigTIFF is not read (the decoder does not know it either).
"""

from __future__ import annotations

import errno
import math
import struct
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from auditor.model.arrays import FileBytes
from auditor.model.plain_file import open_plain

MOST_ENTRIES = 2048
MOST_DIRECTORIES = 64
MOST_VALUE_BYTES = 4 << 20
SUB_IFDS = 330

_SIZES = {1: 1, 2: 1, 3: 2, 4: 4, 5: 8, 6: 1, 7: 1, 8: 2, 9: 4, 10: 8, 11: 4, 12: 8, 13: 4}
_CODES = {1: "B", 3: "H", 4: "I", 6: "b", 7: "B", 8: "h", 9: "i", 11: "f", 12: "d", 13: "I"}
_RATIOS = {5: "I", 10: "i"}


class OutOfBounds(Exception):
    """An offset or a count points outside the file."""


class Source:
    """A file seen through a window, never read beyond its end.

    Parameters
    ----------
    read_at : callable
        Returns bytes of the file, from an offset on, so many or fewer where it ends.
    start, size : int
        The window: all offsets count from ``start``, ``size`` bytes can be read.
    """

    def __init__(self, read_at: Callable[[int, int], bytes], size: int, start: int = 0) -> None:
        self._read_at = read_at
        self.start = start
        self.size = size

    def read(self, offset: int, length: int) -> bytes:
        """Return exactly ``length`` bytes at ``offset``.

        Raises
        ------
        OutOfBounds
            They are not all there, or are too many.
        """
        if offset < 0 or not 0 <= length <= MOST_VALUE_BYTES or offset + length > self.size:
            raise OutOfBounds
        content = self._read_at(self.start + offset, length)
        if len(content) != length:
            raise OutOfBounds
        return content

    def window(self, offset: int, length: int) -> Source:
        """Return a part of this window; OutOfBounds where it reaches beyond it."""
        if offset < 0 or length < 0 or offset + length > self.size:
            raise OutOfBounds
        return Source(self._read_at, length, self.start + offset)


def source_of(stream: BinaryIO) -> Source:
    """Return the whole of an open and seekable file, which stays the caller's, as a window."""

    def read_at(offset: int, length: int) -> bytes:
        stream.seek(offset)
        return stream.read(length)

    return Source(read_at, stream.seek(0, 2))


def source_in(data: FileBytes) -> Source:
    """Return the whole of a file that was read as a window."""
    return Source(lambda offset, length: bytes(data[offset : offset + length]), len(data))


@dataclass(frozen=True, slots=True)
class Entry:
    """One tag of a directory: its type, its count and where its value lies."""

    type: int
    count: int
    offset: int

    @property
    def size(self) -> int:
        """Bytes of the value."""
        return _SIZES[self.type] * self.count


@dataclass(frozen=True, slots=True)
class Directory:
    """One image file directory. Values are read when asked for.

    Parameters
    ----------
    order : str
        "<" or ">".
    entries : dict
        Tag number to entry; of a tag given twice the first counts.
    """

    source: Source
    order: str
    entries: dict[int, Entry]
    next_offset: int = 0

    def __contains__(self, tag: int) -> bool:
        return tag in self.entries

    def raw(self, tag: int, most: int = MOST_VALUE_BYTES) -> bytes:
        """Return at most ``most`` bytes of a value; empty where absent or out of the file."""
        entry = self.entries.get(tag)
        if entry is None:
            return b""
        try:
            return self.source.read(entry.offset, min(entry.size, most))
        except OutOfBounds:
            return b""

    def numbers(self, tag: int, most: int = 70_000) -> tuple[float, ...]:
        """Return a value as numbers.

        Returns
        -------
        tuple of float
            Integers stay ``int``. Empty where the tag is absent, is text, has more than
            ``most`` values, reaches out of the file, or holds a ratio over zero: a part of a
            value is no value.
        """
        entry = self.entries.get(tag)
        if entry is None or not 0 < entry.count <= most:
            return ()
        content = self.raw(tag)
        if len(content) != entry.size:
            return ()
        if entry.type in _RATIOS:
            parts = struct.unpack(f"{self.order}{2 * entry.count}{_RATIOS[entry.type]}", content)
            if 0 in parts[1::2]:
                return ()
            return tuple(up / down for up, down in zip(parts[::2], parts[1::2], strict=True))
        code = _CODES.get(entry.type)
        return struct.unpack(f"{self.order}{entry.count}{code}", content) if code else ()

    def whole(self, tag: int, most: int = 70_000) -> tuple[int, ...]:
        """Return a value as whole numbers; empty where it is anything else."""
        values = self.numbers(tag, most)
        sound = all(math.isfinite(value) and value == int(value) for value in values)
        return tuple(int(value) for value in values) if sound else ()

    def number(self, tag: int) -> float | None:
        """Return the first number of a value, or None."""
        values = self.numbers(tag)
        return values[0] if values else None

    def offset(self, tag: int) -> int:
        """Return where a pointer leads, 0 (nowhere) where it is absent or no whole number."""
        return next(iter(self.whole(tag)), 0)

    def text(self, tag: int, most: int = 256) -> str:
        """Return a value as text up to its first NUL; what is no UTF-8 becomes U+FFFD."""
        return self.raw(tag, most).split(b"\0", 1)[0].decode("utf-8", "replace").strip()


@dataclass(frozen=True, slots=True)
class Tiff:
    """A TIFF stream: its byte order and where its first directory lies."""

    source: Source
    order: str
    first_offset: int

    def directory(self, offset: int) -> Directory | None:
        """Read the directory at an offset; None where none can be."""
        return read_directory(self.source, self.order, offset)

    def first(self) -> Directory | None:
        """Read the first directory."""
        return self.directory(self.first_offset)

    def directories(self) -> Iterator[Directory]:
        """Yield the first directory, its sub-directories, then the next in the chain.

        Each offset is visited once, at most :data:`MOST_DIRECTORIES` in all: rings end.
        """
        seen: set[int] = set()
        waiting = [self.first_offset]
        while waiting and len(seen) < MOST_DIRECTORIES:
            offset = waiting.pop(0)
            if offset in seen:
                continue
            seen.add(offset)
            directory = self.directory(offset)
            if directory is None:
                continue
            yield directory
            waiting[:0] = directory.whole(SUB_IFDS, 32)
            waiting.append(directory.next_offset)


def open_tiff(source: Source) -> Tiff | None:
    """Read the eight bytes of a TIFF header; None where they are not one.

    The number 42 is not asked for: several makers write their own there.
    """
    try:
        head = source.read(0, 8)
    except OutOfBounds:
        return None
    order = {b"II": "<", b"MM": ">"}.get(head[:2])
    if order is None:
        return None
    return Tiff(source, order, struct.unpack(f"{order}I", head[4:])[0])


def read_directory(source: Source, order: str, offset: int) -> Directory | None:
    """Read the entries of the directory at ``offset``, without their values.

    Returns
    -------
    Directory or None
        None at offset 0 or where the directory does not lie within the file. Entries of
        unknown type are left out; of more than :data:`MOST_ENTRIES` the rest is.
    """
    if offset <= 0:
        return None
    try:
        count = struct.unpack(f"{order}H", source.read(offset, 2))[0]
        kept = min(count, MOST_ENTRIES)
        table = source.read(offset + 2, 12 * kept)
    except OutOfBounds:
        return None
    entries: dict[int, Entry] = {}
    for place in range(kept):
        tag, kind, values, value = struct.unpack_from(f"{order}HHII", table, 12 * place)
        if kind in _SIZES:
            inline = _SIZES[kind] * values <= 4
            at = offset + 2 + 12 * place + 8 if inline else value
            entries.setdefault(tag, Entry(kind, values, at))
    try:
        following = int(struct.unpack(f"{order}I", source.read(offset + 2 + 12 * count, 4))[0])
    except OutOfBounds:
        following = 0
    return Directory(source, order, entries, following)


XMP_PACKET = 700
"""The tag, in the first directory (ISO 16684-3; the DNG specification says the same)."""


def embedded_xmp(path: Path) -> bytes | None:
    """Return the packet in a TIFF-like raw file (DNG and most makers' own), without its padding.

    Returns
    -------
    bytes or None
        None where the file is not TIFF-like or holds none.

    Raises
    ------
    OSError
        The file cannot be read, or its packet lies outside it or is larger than any sidecar.
    """
    with open_plain(path) as stream:
        tiff = open_tiff(source_of(stream))
        first = None if tiff is None else tiff.first()
        entry = None if first is None else first.entries.get(XMP_PACKET)
        if first is None or entry is None or entry.size == 0:
            return None
        packet = first.raw(XMP_PACKET)
        if entry.size > MOST_VALUE_BYTES or len(packet) != entry.size:
            raise OSError(errno.EFBIG, "its XMP is cut off or too large", str(path))
        return packet.strip(b"\0 \r\n\t") or None
