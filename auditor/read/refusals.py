"""What is refused rather than measured wrongly, each with its reason."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from auditor.model.errors import UnreadableFile
from auditor.model.mosaic import Mosaic
from auditor.read.decoded import Decoded
from auditor.read.dng import DngTags

MOST_PIXELS = 600_000_000
"""A header that claims more is damaged: the largest sensors have a quarter of it."""

BLANK_SHARE = 0.95
SAMPLED_ROWS = 256
DECODED_PART = 0.1
"""Zeros below the first tenth of the rows are a picture that was cut off, not darkness."""


def refuse_size(height: int, width: int) -> None:
    """Refuse a picture that no camera makes before memory is asked for."""
    if not 0 < height * width <= MOST_PIXELS:
        raise UnreadableFile(
            "too-large" if height * width else "damaged",
            f"The file claims a picture of {width} x {height} pixels. Its header is damaged.",
        )


def refuse_float(pictures: tuple[DngTags, ...]) -> None:
    """Refuse floating-point data: the decoder scales each file to its own maximum."""
    if pictures and pictures[0].floating:
        raise UnreadableFile(
            "not-sensor-data",
            "The file holds floating-point values, which the decoder scales to their own "
            "maximum: headroom would mean nothing. Audit the original raw files.",
        )


def refuse_processed(decoded: Decoded, kind: str, tags: DngTags | None) -> None:
    """Refuse three-sample data that are no linear sensor data.

    Small raws of several makers hold colours that the camera has balanced and compressed
    already. A linear DNG says of itself that it is linear; the layers of an X3F file are.
    """
    if decoded.stored.ndim == 2 or kind == "x3f" or (tags is not None and tags.linear):
        return
    raise UnreadableFile(
        "not-sensor-data",
        "The file holds three values a pixel that the camera has processed (a small raw): "
        "clipping can no longer be told. Record full-size raw files.",
    )


def refuse_blank(mosaic: Mosaic, early: Callable[[], bool]) -> None:
    """Refuse a picture of zeros: some files that were cut off decode without an error.

    A dark frame of a body whose black level is 0 holds many true zeros, but in every part of
    the picture something is left of the noise; so there only zeros from some row on count.

    Parameters
    ----------
    early : callable
        Tells whether the file ends before its picture does; asked only when needed.
    """
    step = max(1, mosaic.height // SAMPLED_ROWS) | 1  # odd, so that every colour is met
    sample = mosaic.pixels[::step]
    if np.count_nonzero(sample) > (1.0 - BLANK_SHARE) * sample.size:
        return
    filled = np.flatnonzero(mosaic.pixels.reshape(mosaic.height, -1).any(axis=1))
    last = int(filled[-1]) + 1 if filled.size else 0
    if float(mosaic.black.pattern_dn.min()) <= 0 and last > DECODED_PART * mosaic.height:
        return
    why = "it ends before its picture does" if early() else "it was cut off or never written"
    raise UnreadableFile(
        "no-pixels",
        f"The file opens, but its picture is zeros: {why}. Copy it from the card again.",
    )
