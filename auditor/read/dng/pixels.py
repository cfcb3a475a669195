"""The pixels of a DNG, decoded tile by tile through imagecodecs.

Known are plain samples of 8 to 16 bits, lossless JPEG however its width and components are cut,
deflate, 8-bit JPEG and JPEG XL, in tiles or strips, with a linearisation table and interleaved
fields. Whatever else a file may hold raises :class:`NotRead`, and LibRaw is asked instead.

No length in a file is taken on trust: what a tile says of its own size is compared with the size
it must have before it is decoded, and nothing is decoded into more room than that.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import imagecodecs
import numpy as np

from auditor.model.arrays import U16, FileBytes
from auditor.read.dng.curve import sample_tables
from auditor.read.dng.tags import (
    DEFLATE,
    JPEG,
    JPEG_XL,
    LOSSY_JPEG,
    OLD_DEFLATE,
    PLAIN,
    Chunks,
    DngTags,
)
from auditor.read.dng.tile_end import ends_as_decoded
from auditor.read.jpeg import LOSSLESS, JpegHead, read_jpeg_head
from auditor.read.tiff import OutOfBounds
from auditor.words import unread
from auditor.words.unread import Oddity

DECODER = f"imagecodecs {imagecodecs.__version__}"

Samples = np.ndarray[tuple[int, ...], np.dtype[np.uint8 | np.uint16]]

LARGEST_TILE = 4
"""A tile may be padded, but not to more than so many times the picture (and a large tile)."""

USUAL_TILE_PX = 4096 * 4096
CHECKED_TOGETHER = 8
"""Tiles: after each decoded tile the check would find the core's caches without its own code."""

_NEIGHBOURS = {1: 0, 2: 1, 34892: 2, 34893: 4}
"""Predictors of deflated integers: to which neighbour the difference is stored."""

_16_BITS_MENDED = (1, 1)
"""Before this version of the specification differences of 16 bits were written another way."""


class NotRead(Exception):
    """A file is not read here; the message says why."""


class DamagedTile(NotRead):
    """A tile cannot be decoded."""


class BrokenTile(DamagedTile):
    """A tile holds what no packed data can, and others may decode it none the less.

    Attributes
    ----------
    number : int
        Of the tile.
    """

    number = 0


@dataclass(frozen=True)
class _Tile:
    """One tile or strip as it lies in the file.

    Parameters
    ----------
    content : memoryview
    shape : (rows, columns, samples)
        Of what it must hold.
    tags : DngTags
    room : array of uint16 or None
        Its place in the picture, where it may be decoded straight into it.
    """

    content: memoryview
    shape: tuple[int, int, int]
    tags: DngTags
    room: U16 | None

    @cached_property
    def head(self) -> JpegHead | None:
        """What a JPEG stream says of itself."""
        return read_jpeg_head(self.content)

    @property
    def sound_head(self) -> JpegHead:
        """The same, where there must be one."""
        if self.head is None:
            raise DamagedTile(Oddity.TILE_HEAD)
        return self.head


def read_pixels(data: FileBytes, tags: DngTags) -> tuple[U16, tuple[int, ...]]:
    """Decode the raw picture.

    Parameters
    ----------
    data : bytes
        The whole file.
    tags : DngTags
        Its size was checked against what cameras make.

    Returns
    -------
    stored : array of uint16, shape (height, width) or (height, width, samples)
        As stored, masked border included, linearised.
    foreign : tuple of int
        Numbers of the tiles whose data are not those of one whole tile.

    Raises
    ------
    NotRead
        It is stored in a way that is not known here, or (:class:`DamagedTile`) is damaged.
    OutOfBounds
        The file ends before its picture does.
    UnreadableFile
        Its header claims what cannot be.
    """
    chunks = _checked(tags)
    tables = sample_tables(tags)
    decode = _DECODERS[tags.compression]
    across = -(-tags.width // chunks.width)
    planes = () if tags.samples == 1 else (tags.samples,)
    stored = np.empty((tags.height, tags.width, *planes), dtype=np.uint16)
    whole, foreign = memoryview(data), list[int]()
    unchecked: list[tuple[int, _Tile, Samples]] = []
    for place, (offset, length) in enumerate(chunks.parts):
        top, left = place // across * chunks.height, place % across * chunks.width
        wanted = stored[top : top + chunks.height, left : left + chunks.width]
        # tiles are always whole, the last strip is not
        rows = len(wanted) if chunks.width == tags.width else chunks.height
        if offset + length > len(data):
            raise OutOfBounds
        straight = tables is None and wanted.flags.c_contiguous and len(wanted) == rows
        tile = _Tile(
            whole[offset : offset + length],
            (rows, chunks.width, tags.samples),
            tags,
            wanted if straight else None,
        )
        try:
            part = decode(tile)
        except BrokenTile as error:
            error.number = place
            raise
        _put(part, wanted, tables)
        if tags.compression == JPEG:
            unchecked.append((place, tile, part))
        if len(unchecked) == CHECKED_TOGETHER or place == len(chunks.parts) - 1:
            foreign += [
                number
                for number, own, samples in unchecked
                if not ends_as_decoded(own.content, own.head, samples)
            ]
            unchecked.clear()
    return _without_fields(stored, tags.storage.fields), tuple(foreign)


def _checked(tags: DngTags) -> Chunks:
    """Return the tiles of a picture that is stored in a known way."""
    chunks, storage = tags.chunks, tags.storage
    if tags.compression not in _DECODERS or tags.floating:
        raise NotRead(Oddity.COMPRESSION)
    if tags.samples not in (1, 3) or not storage.interleaved or not storage.high_bit_first:
        raise NotRead(Oddity.LAYOUT)
    if not 8 <= tags.bits <= 16:
        raise NotRead(Oddity.BITS.format(bits=tags.bits))
    if chunks is None:
        raise NotRead(Oddity.NO_TILES)
    room = LARGEST_TILE * max(tags.height * tags.width, USUAL_TILE_PX)
    if chunks.height * chunks.width > room:  # nobody else may ask for so much memory either
        raise unread.HUGE_TILE.error()
    count = -(-tags.width // chunks.width) * -(-tags.height // chunks.height)
    if len(chunks.parts) != count:
        raise NotRead(Oddity.TILES_SHORT)
    if not all(1 <= factor <= 16 for factor in storage.fields):
        raise NotRead(Oddity.FIELDS)
    return chunks


def _put(part: Samples, wanted: U16, tables: U16 | None) -> None:
    """Put a decoded tile into the picture, what lies beyond it cut off, codes made values."""
    if np.may_share_memory(part, wanted):  # decoded straight into its place
        return
    cut = part.reshape(*part.shape[:2], *wanted.shape[2:])[: wanted.shape[0], : wanted.shape[1]]
    if cut.shape != wanted.shape:
        raise DamagedTile(Oddity.TILE_SMALL)
    if tables is None:
        wanted[...] = cut
    elif len(tables) == 1:
        np.take(tables[0], cut, out=wanted, mode="clip")
    else:
        for plane, table in enumerate(tables):
            wanted[..., plane] = np.take(table, cut[..., plane], mode="clip")


def _plain(tile: _Tile) -> Samples:
    (rows, width, samples), bits = tile.shape, tile.tags.bits
    line = width * samples
    size = rows * -(-line * bits // 8)
    if len(tile.content) < size:
        raise DamagedTile(Oddity.PART_SHORT)
    if bits in (8, 16):
        kind = "u1" if bits == 8 else f"{tile.tags.storage.order}u2"
        return np.frombuffer(tile.content, kind, rows * line).reshape(tile.shape)
    unpacked: Samples = imagecodecs.packints_decode(
        bytes(tile.content[:size]), np.uint16, bits, runlen=line
    )
    return unpacked.reshape(tile.shape)


def _lossless(tile: _Tile) -> Samples:
    """Decode a lossless JPEG. Only its count of samples must be that of the tile.

    Mosaics are often cut into other widths, heights and components, so that a pixel is foretold
    from one of its own colour.
    """
    head = tile.sound_head
    if head.process != LOSSLESS:
        raise NotRead(Oddity.TILE_OTHERWISE)
    if head.height * head.width * head.components != math.prod(tile.shape):
        raise NotRead(Oddity.TILE_SAMPLES)
    if head.bits == 16 and tile.tags.storage.version[:2] < _16_BITS_MENDED:
        raise NotRead(Oddity.EARLY)
    whole = head.ends_well(tile.content)
    if whole is None:
        raise NotRead(Oddity.NO_END)
    if not whole:
        raise BrokenTile(Oddity.BREAKS_OFF)
    target = None
    if tile.room is not None and head.bits > 8:
        target = tile.room.reshape(head.shape)
    picture: Samples = _decoded(imagecodecs.jpeg8_decode, tile.content, target)
    return picture.reshape(tile.shape)


def _lossy(tile: _Tile) -> Samples:
    head, (rows, columns, samples) = tile.sound_head, tile.shape
    if head.process == LOSSLESS or head.bits != 8 or head.components != samples:
        raise NotRead(Oddity.TILE_COLOURS)
    if head.height > rows or head.width > columns:
        raise DamagedTile(Oddity.TILE_LARGE)
    picture: Samples = _decoded(imagecodecs.jpeg8_decode, tile.content, None)
    return picture.reshape(*head.shape[:2], samples)


def _deflated(tile: _Tile) -> Samples:
    tags, shape = tile.tags, tile.shape
    neighbour = _NEIGHBOURS.get(tags.storage.predictor)
    if tags.bits not in (8, 16) or neighbour is None:
        raise NotRead(Oddity.DEFLATED)
    kind = np.dtype("u1" if tags.bits == 8 else f"{tags.storage.order}u2")
    size = math.prod(shape) * kind.itemsize
    inflated = _decoded(imagecodecs.zlib_decode, tile.content, bytearray(size))
    if len(inflated) != size:
        raise DamagedTile(Oddity.TILE_SMALL)
    samples = np.frombuffer(inflated, kind).reshape(shape)
    for first in range(neighbour):
        part = samples[:, first::neighbour]
        np.cumsum(part, axis=1, dtype=kind, out=part)
    return samples


def _jpeg_xl(tile: _Tile) -> Samples:
    flat = tile.shape[:2] if tile.shape[2] == 1 else tile.shape
    target = np.empty(flat, dtype=np.uint8 if tile.tags.bits <= 8 else np.uint16)
    picture: Samples = _decoded(imagecodecs.jpegxl_decode, tile.content, target, numthreads=1)
    return picture.reshape(tile.shape)


_DECODERS: dict[int, Callable[[_Tile], Samples]] = {
    PLAIN: _plain,
    JPEG: _lossless,
    DEFLATE: _deflated,
    OLD_DEFLATE: _deflated,
    LOSSY_JPEG: _lossy,
    JPEG_XL: _jpeg_xl,
}


def _decoded(function: Callable[..., Any], content: memoryview, out: object, **how: object) -> Any:
    """Call a codec; each has errors of its own, all are RuntimeError or ValueError."""
    try:
        return function(content, out=out, **how)
    except (RuntimeError, ValueError, ImportError) as error:
        raise DamagedTile(Oddity.NOT_DECODED) from error


def _without_fields(stored: U16, fields: tuple[int, int]) -> U16:
    """Put the smaller pictures of interleaved fields together (over the whole, not by tile)."""
    if fields == (1, 1):
        return stored
    woven = np.empty_like(stored)
    top = 0
    for row in range(fields[0]):
        rows = len(range(row, stored.shape[0], fields[0]))
        left = 0
        for column in range(fields[1]):
            cols = len(range(column, stored.shape[1], fields[1]))
            part = stored[top : top + rows, left : left + cols]
            woven[row :: fields[0], column :: fields[1]] = part
            left += cols
        top += rows
    return woven
