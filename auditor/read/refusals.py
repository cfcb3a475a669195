"""What is refused rather than measured wrongly, each with its reason."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable
from itertools import pairwise

import numpy as np

from auditor.model.arrays import FileBytes
from auditor.model.mosaic import Mosaic
from auditor.read.decoded import Decoded
from auditor.read.dng.tags import PLAIN, DngTags
from auditor.read.tiff import open_tiff, source_in
from auditor.words import unread

MOST_PIXELS = 600_000_000
"""A header that claims more is damaged: the largest sensors have a quarter of it."""

BLANK_SHARE = 0.95
SAMPLED_ROWS = 256
DECODED_PART = 0.1
"""Zeros below the first tenth of the rows are a picture that was cut off, not darkness."""


def refuse_size(height: int, width: int) -> None:
    """Refuse a picture that no camera makes before memory is asked for."""
    if not 0 < height * width <= MOST_PIXELS:
        raise unread.HUGE.error(width=width, height=height)


def refuse_astray(data: FileBytes, tags: DngTags) -> None:
    """Refuse a DNG whose pixels lie where something else does: its header, a tag, other pixels."""
    chunks = tags.chunks.parts if tags.chunks else ((0, 1),)
    # even tiles may be packed once for all; plain ones are never alike
    plain = tags.compression == PLAIN
    parts = sorted(part for part in (chunks if plain else set(chunks)) if part[1] > 0)
    tiff = open_tiff(source_in(data))
    directories = tiff.directories() if tiff else ()
    taken = {0, *(entry.offset for one in directories for entry in one.entries.values())}
    begins = [offset for offset, _ in parts]
    before = [(place, bisect_right(begins, place) - 1) for place in taken]
    on_tags = any(at >= 0 and place < sum(parts[at]) for place, at in before)
    if on_tags or any(sum(part) > begin for part, (begin, _) in pairwise(parts)):
        raise unread.ASTRAY.error()


def refuse_float(pictures: tuple[DngTags, ...]) -> None:
    """Refuse floating-point data: the decoder scales each file to its own maximum."""
    if pictures and pictures[0].floating:
        raise unread.FLOATING.error()


def refuse_processed(decoded: Decoded, kind: str, tags: DngTags | None) -> None:
    """Refuse three-sample data that are no linear sensor data.

    Small raws of several makers hold colours that the camera has balanced and compressed
    already. A linear DNG says of itself that it is linear; the layers of an X3F file are.
    """
    if decoded.stored.ndim == 2 or kind == "x3f" or (tags is not None and tags.linear):
        return
    raise unread.PROCESSED.error()


def refuse_lost(mosaic: Mosaic, early: Callable[[], bool]) -> None:
    """Refuse a picture that was lost in part or whole though it decodes without an error.

    Where a file was cut off, some decoders leave zeros, others repeat the last row they read.

    Parameters
    ----------
    early : callable
        Tells whether the file ends before its picture does; asked only when needed.

    Raises
    ------
    UnreadableFile
        "no-pixels" for next to nothing but zeros, "cut-off" where the lower part is missing and
        the file ends too early.
    """
    step = max(1, mosaic.height // SAMPLED_ROWS) | 1  # odd, so that every colour is met
    sample = mosaic.pixels[::step]
    if np.count_nonzero(sample) <= (1.0 - BLANK_SHARE) * sample.size:
        # a dark frame of a body whose black level is 0 holds many true zeros, yet something is left
        # of the noise in every part of it: there only zeros from some row on count
        across = tuple(range(1, mosaic.pixels.ndim))
        filled = np.flatnonzero(mosaic.pixels.any(axis=across))
        reached = (int(filled[-1]) + 1) / mosaic.height if filled.size else 0.0
        if float(mosaic.black.pattern_dn.min()) > 0 or reached <= DECODED_PART:
            raise (unread.ZEROS_CUT_OFF if early() else unread.ZEROS).error()
    # rows at the lower end that are zeros or repeat the row above
    tail, rows = 0, mosaic.pixels
    while tail < mosaic.height - 1 and (
        not rows[-1 - tail].any() or np.array_equal(rows[-1 - tail], rows[-2 - tail])
    ):
        tail += 1
    if tail and early():
        raise unread.UPPER_PART.error(share=100.0 * (1.0 - tail / mosaic.height))
