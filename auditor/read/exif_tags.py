"""Tags of one file as plain numbers and clean texts. Absent stays absent: 0/0 is no number."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TypeAlias

LONGEST_TEXT = 200

Value: TypeAlias = str | tuple[float | None, ...]

IMAGE, EXIF, GPS = "Image", "EXIF", "GPS"


@dataclass(frozen=True, slots=True)
class ExifTags:
    """Values by directory ("Image", "EXIF", "GPS") and tag number.

    Parameters
    ----------
    groups : dict
        Texts, or tuples of numbers with None where a ratio has nothing under the line.
    """

    groups: dict[str, dict[int, Value]] = field(default_factory=dict)

    def value(self, tag: int, *groups: str) -> Value | None:
        """Return the value in the first directory that has it (by default Exif, then image)."""
        for group in groups or (EXIF, IMAGE):
            found = self.groups.get(group, {}).get(tag)
            if found is not None:
                return found
        return None

    def numbers(self, tag: int, *groups: str) -> tuple[float | None, ...]:
        """Return all numbers of a value; empty where it is a text or absent."""
        found = self.value(tag, *groups)
        return found if isinstance(found, tuple) else ()

    def number(self, tag: int, *groups: str) -> float | None:
        """Return the first number of a value, finite, or None."""
        found = self.numbers(tag, *groups)
        if not found or found[0] is None or not math.isfinite(found[0]):
            return None
        return found[0]

    def between(self, tag: int, least: float, most: float, *groups: str) -> float | None:
        """Return the first number of a value if it lies within bounds."""
        found = self.number(tag, *groups)
        return found if found is not None and least <= found <= most else None

    def text(self, tag: int, *groups: str) -> str | None:
        """Return a value as clean text; None where it is empty, absent or no text."""
        found = self.value(tag, *groups)
        return clean(found) if isinstance(found, str) else None


def clean(text: str) -> str | None:
    """Return a text without NULs, blanks at the ends and lone surrogates, at most 200 characters.

    Otherwise raw: escaping is for whoever shows it.
    """
    whole = "".join(char for char in text if char != "\0" and not "\ud800" <= char <= "\udfff")
    return whole.strip()[:LONGEST_TEXT].rstrip() or None
