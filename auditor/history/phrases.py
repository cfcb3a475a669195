"""Small phrases that habits are told in."""

from __future__ import annotations

COLOUR_WORDS = {"R": "red", "G": "green", "B": "blue", "L": "the only one"}
"""Channels as one says them."""

UNKNOWN_CAMERA, UNKNOWN_LENS = "unknown camera", "unknown lens"
"""What stands in a table where the file names none."""


def thirds_text(stops: float) -> str:
    """Say a number of thirds of a stop in words: "a third of a stop", "one and a third stops"."""
    whole, part = divmod(round(3.0 * stops), 3)
    number = {1: "one", 2: "two", 3: "three", 4: "four"}.get(whole, str(whole))
    if whole == 0:
        return ("nothing", "a third of a stop", "two thirds of a stop")[part]
    tail = ("", " and a third", " and two thirds")[part]
    return f"{number}{tail} {'stop' if (whole, part) == (1, 0) else 'stops'}"


def said(gear: str) -> str:
    """Return a camera's or lens's name as it stands inside a sentence."""
    return f"an {gear}" if gear in (UNKNOWN_CAMERA, UNKNOWN_LENS) else gear


def counted(number: int, noun: str) -> str:
    """Return ``1 frame``, ``2 frames``."""
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"
