"""The pixels that stay hot, in words."""

from __future__ import annotations

from auditor.model.audit import Audit, LastingHotPixels
from auditor.report import words

MOST_NAMED = 6
"""Places of more pixels than this are no reading matter: a file holds them."""


def lasting_lines(audit: Audit) -> tuple[str, ...]:
    """Tell each body's lasting hot pixels in one line: how many, and where, if they are few."""
    return tuple(_line(entry) for entry in audit.lasting_hot_pixels)


def _line(lasting: LastingHotPixels) -> str:
    stay = "pixel stays" if lasting.count == 1 else "pixels stay"
    return (
        f"{words.name(lasting.body)}: {lasting.count} {stay} hot from view to view, in "
        f"{words.counted(lasting.frames, 'frame')} looked at. {_places(lasting)}"
    )


def _places(lasting: LastingHotPixels) -> str:
    if lasting.count > MOST_NAMED:
        return "Their rows and columns are in audit.json."
    named = [
        f"{row}/{col} ({seen} frames)"
        for (row, col), seen in zip(lasting.positions, lasting.seen, strict=True)
    ]
    return f"Row/column: {', '.join(named)}."
