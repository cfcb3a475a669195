"""Large pictures of a frame: the whole, and places of it at the sensor's own pixels."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path

LARGE = "large pictures"
"""Their name among what a file may lack. They are no measure: they lie beside the store."""

LARGE_VERSION = 1
"""Raised when they are drawn otherwise; those of another version are made anew."""

MOST_BYTES = 370_000
"""Of all pictures of a frame; with what a file system rounds up, less than 400 kB on the disk."""


class PictureKind(StrEnum):
    """What a picture shows."""

    WHOLE = "whole"
    BLOWN = "blown"
    """One pixel for one of the sensor's, where the largest blown patch is, or its edge."""

    SHARP = "sharp"
    """Likewise, where most fine detail is and next to nothing is blown."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PicturePlace:
    """A picture's size, and which part of the upright frame it shows.

    Parameters
    ----------
    width_px, height_px : int
        Of the picture.
    left, top, width, height : float
        Fractions of the upright frame.
    """

    kind: PictureKind
    width_px: int
    height_px: int
    left: float = 0.0
    top: float = 0.0
    width: float = 1.0
    height: float = 1.0


@dataclass(frozen=True, slots=True)
class LargePicture:
    """An upright picture as JPEG bytes."""

    place: PicturePlace
    jpeg: bytes


@dataclass(frozen=True, slots=True)
class KeptPicture:
    """An upright picture in a file."""

    place: PicturePlace
    path: Path
    size_bytes: int
