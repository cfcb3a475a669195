r"""File names: shown without loss, and put in the order that people count in.

A name that is not UTF-8 (old cards, other systems) reaches Python with surrogate escapes, which
neither prints nor goes into JSON. It is shown with its bytes written out, and the backslash
doubled so that no two names look the same.
"""

from __future__ import annotations

import re

from auditor.model.text import visible

_WRITTEN_OUT = re.compile(
    r"\\(?:\\|x([0-9a-f]{2})|u([0-9a-f]{4})|U([0-9a-f]{8}))"
)  # what visible_name writes
_DIGITS = re.compile(r"([0-9]+)")


def visible_name(name: str) -> str:
    r"""Return a name fit to print and to encode: nothing hidden, nothing lost.

    ``\`` becomes ``\\``, a byte that is no text ``\xNN``, a control or other hidden character
    ``\uNNNN``. Ordinary names stay as they are.
    """
    return visible(name.replace("\\", "\\\\"))


def real_name(shown: str) -> str:
    """Return the name that :func:`visible_name` made ``shown`` from."""
    return _WRITTEN_OUT.sub(_unwritten, shown)


def _unwritten(match: re.Match[str]) -> str:
    byte, short, long = match.groups()
    if byte:
        return chr(0xDC00 + int(byte, 16))
    return chr(int(short or long, 16)) if short or long else "\\"


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
