"""A DNG decoded without LibRaw: pixels, colours and the visible part as its tags have them.

Where this differs from LibRaw the specification decides: the visible part is ActiveArea to the
pixel (LibRaw moves odd margins), a linearisation table's last entry counts for all codes beyond,
and a lossy file's curve is applied after its black level.
"""

from __future__ import annotations

import numpy as np

from auditor.model.arrays import U8
from auditor.read.completion import DecoderFacts
from auditor.read.decoded import BLOCK, Decoded
from auditor.read.dng.curve import straightened
from auditor.read.dng.pixels import NotRead, read_pixels
from auditor.read.dng.tags import DngTags
from auditor.read.maker import lens_by_figures
from auditor.read.refusals import refuse_size
from auditor.read.tiff import OutOfBounds
from auditor.words import unread
from auditor.words.unread import Oddity

_LETTERS = "RGB"


def decode_dng(data: bytes, tags: DngTags) -> tuple[Decoded, DngTags]:
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
