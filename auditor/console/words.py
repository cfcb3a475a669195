"""Small words."""

from __future__ import annotations


def plural(number: int, noun: str) -> str:
    """Return the noun as that number wants it."""
    return noun if number == 1 else f"{noun}s"
