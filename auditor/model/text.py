"""Text from files made safe to show: every character that hides or steers becomes visible."""

from __future__ import annotations

import unicodedata

_HIDDEN = frozenset({"Cc", "Cf", "Cs", "Zl", "Zp"})
"""Unicode categories: controls, format characters (the bidirectional ones too), surrogates,
line and paragraph separators."""

_NONCHARACTERS = frozenset({0xFFFE, 0xFFFF})


def visible(text: str) -> str:
    r"""Return the text with every control, bidirectional or broken character written out.

    A byte that was no text (a surrogate escape of a file name) becomes ``\xNN``, any other
    hidden character ``\uNNNN``. Letters, marks, signs and plain spaces stay as they are.

    Parameters
    ----------
    text : str

    Returns
    -------
    str
        One line, fit to be encoded as UTF-8.
    """
    if text.isascii() and text.isprintable():
        return text
    return "".join(_shown(character) for character in text)


def _shown(character: str) -> str:
    code = ord(character)
    if unicodedata.category(character) not in _HIDDEN and code & 0xFFFF not in _NONCHARACTERS:
        return character
    if 0xDC80 <= code <= 0xDCFF:
        return f"\\x{code - 0xDC00:02x}"
    return f"\\U{code:08x}" if code > 0xFFFF else f"\\u{code:04x}"


def encodable(text: str) -> str:
    r"""Return the text with lone surrogates written out, all else as it is.

    For machine-readable files, which must be valid Unicode but keep every real character.
    """
    if text.isascii():
        return text
    return "".join(_shown(char) if "\ud800" <= char <= "\udfff" else char for char in text)
