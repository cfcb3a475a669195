"""Small words."""

from __future__ import annotations


def plural(number: int, noun: str) -> str:
    """Return the noun as that number wants it."""
    return noun if number == 1 else f"{noun}s"


def counted(number: int, noun: str) -> str:
    """Return the number, in groups of three, and the noun as it wants it."""
    return f"{number:,} {plural(number, noun)}"
