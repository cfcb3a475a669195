"""File names in the order that people count in."""

from __future__ import annotations

import re

_DIGITS = re.compile(r"([0-9]+)")

NaturalKey = tuple[tuple[tuple[tuple[int, int, str], ...], ...], str]


def natural_key(name: str) -> NaturalKey:
    """Return a key that sorts IMG_9 before IMG_10, folder by folder, case put last.

    Runs of digits compare as numbers by length and digits, so that no run is too long.
    """
    parts = tuple(_natural_part(part) for part in name.casefold().split("/"))
    return parts, name


def _natural_part(part: str) -> tuple[tuple[int, int, str], ...]:
    pieces = _DIGITS.split(part)
    return tuple(_piece(piece) for piece in pieces if piece)


def _piece(piece: str) -> tuple[int, int, str]:
    if piece.isascii() and piece.isdigit():
        digits = piece.lstrip("0")
        return 0, len(digits), digits
    return 1, 0, piece
