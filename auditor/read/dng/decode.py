"""A DNG decoded without LibRaw: pixels, colours and the visible part as its tags have them.

Where this differs from LibRaw the specification decides: the visible part is ActiveArea to the
pixel (LibRaw moves odd margins), a linearisation table's last entry counts for all codes beyond,
and a lossy file's curve is applied after its black level.

The digests that a DNG carries of its own pixels are checked on demand only: for 45 megapixels that
takes about an eighth of a second, a quarter of the decoding of a lossless file. RawImageDigest (tag
50972): MD5 of all samples in rows, each 16 bits, low byte first. NewRawImageDigest (tag 51111): the
picture is cut into tiles of 256 x 256 (less at the right and lower edge); of each tile the MD5 of
its samples, plane by plane, 16 bits, low byte first; then the MD5 of all these in the order of
reading. After the DNG specification 1.7.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from auditor.model.arrays import U8, U16, FileBytes
from auditor.read.decoded import BLOCK, Decoded, DecoderFacts
from auditor.read.dng.curve import straightened
from auditor.read.dng.pixels import NotRead, read_pixels
from auditor.read.dng.tags import JPEG_XL, LOSSY_JPEG, DngTags
from auditor.read.maker import lens_by_figures
from auditor.read.refusals import refuse_size
from auditor.read.tiff import OutOfBounds
from auditor.words import unread
from auditor.words.unread import Oddity

if TYPE_CHECKING:
    from hashlib import _Hash


_LETTERS = "RGB"


def decode_dng(data: FileBytes, tags: DngTags) -> tuple[Decoded, DngTags]:
    """Decode the raw picture that the tags describe.

    Parameters
    ----------
    data : bytes
        The whole file.

    Returns
    -------
    decoded : Decoded
        Its levels are not filled in: they are those of the tags.
    tags : DngTags
        The same, with levels that fit the values where codes were straightened.

    Raises
    ------
    NotRead
        It is stored in a way that is not known here, or is damaged: LibRaw may know more.
    UnreadableFile
        The file claims what no camera makes, or ends before its picture does.
    """
    refuse_size(tags.height, tags.width)
    colours = _colours(tags)
    if tags.black is None:
        raise NotRead(Oddity.BLACK_LEVEL)
    try:
        stored, foreign = read_pixels(data, tags)
    except OutOfBounds as error:
        raise unread.CUT_OFF.error() from error
    top, left, bottom, right = tags.active
    decoded = Decoded(
        stored=stored,
        top=top,
        left=left,
        height=bottom - top,
        width=right - left,
        colours=colours,
        colour_letters=_LETTERS,
        colour_count=1 if tags.linear and tags.samples == 1 else 3,
        black_dn=(),
        white_dn=2.0**tags.bits - 1.0,
        pixel_aspect=tags.pixel_aspect,
        foreign_tiles=foreign,
    )
    return decoded, straightened(tags)


def told_by_tags(tags: DngTags) -> DecoderFacts:
    """Return what LibRaw would work out of the tags, as it would tell it."""
    neutral = tags.neutral
    balance = tuple(1.0 / value for value in neutral) if neutral and min(neutral) > 0 else ()
    return DecoderFacts(white_balance=balance, lens=lens_by_figures(tags.lens))


def _colours(tags: DngTags) -> U8 | None:
    """Return the colour of each place from the corner of the active area; None for no mosaic."""
    if tags.linear:
        return None if tags.samples > 1 else np.zeros((BLOCK, BLOCK), dtype=np.uint8)
    if tags.samples != 1:
        raise NotRead(Oddity.SAMPLES)
    if not tags.pattern or not tags.storage.square:
        raise NotRead(Oddity.COLOURS)
    cell = np.array(tags.pattern)
    if cell.max() >= len(_LETTERS) or BLOCK % cell.shape[0] or BLOCK % cell.shape[1]:
        raise NotRead(Oddity.COLOURS)
    return np.tile(cell, (BLOCK // cell.shape[0], BLOCK // cell.shape[1])).astype(np.uint8)


TILE = 256


def digest_holds(stored: U16, tags: DngTags) -> bool | None:
    """Tell whether the pixels are those that were written.

    Parameters
    ----------
    stored : array of uint16
        The whole picture as stored, margins included.

    Returns
    -------
    bool or None
        None where there is nothing to compare: no digest, lossy or linearised data (the stored
        samples are then not at hand), or a picture of another size.
    """
    if tags.compression in (LOSSY_JPEG, JPEG_XL) or tags.table:
        return None
    if stored.shape[:2] != (tags.height, tags.width):
        return None
    if tags.new_digest:
        return new_digest(stored, narrow=tags.bits <= 8) == tags.new_digest
    return old_digest(stored) == tags.digest if tags.digest else None


def old_digest(stored: U16) -> bytes:
    """Return the RawImageDigest of a picture."""
    return _md5(_bytes_of(stored, "<u2")).digest()


def new_digest(stored: U16, *, narrow: bool = False) -> bytes:
    """Return the NewRawImageDigest of a picture; ``narrow`` for 8-bit samples."""
    planes = stored if stored.ndim == 3 else stored[:, :, None]
    whole = _md5()
    for top in range(0, planes.shape[0], TILE):
        for left in range(0, planes.shape[1], TILE):
            tile = planes[top : top + TILE, left : left + TILE].transpose(2, 0, 1)
            samples = _bytes_of(tile, "u1" if narrow else "<u2")
            whole.update(_md5(samples).digest())
    return whole.digest()


def _md5(content: bytes | memoryview = b"") -> _Hash:
    # four megabytes of a worker's memory, which few audits ask for
    from hashlib import md5  # noqa: PLC0415

    return md5(content, usedforsecurity=False)


def _bytes_of(samples: U16, kind: str) -> memoryview:
    return np.ascontiguousarray(samples, dtype=kind).data.cast("B")
