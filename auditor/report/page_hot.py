"""The pixels that stay hot, in words."""

from __future__ import annotations

from auditor.model.audit import Audit, LastingHotPixels
from auditor.report import words

MOST_NAMED = 6


def lasting_lines(audit: Audit) -> tuple[str, ...]:
    """Tell each body's lasting hot pixels in one line: how many, and where the surest lie."""
    return tuple(_line(entry) for entry in audit.lasting_hot_pixels)


def _line(lasting: LastingHotPixels) -> str:
    stay = "pixel stays" if lasting.count == 1 else "pixels stay"
    named = [
        f"{row}/{col} ({seen} frames)"
        for (row, col), seen in zip(lasting.positions, lasting.seen, strict=True)
    ][:MOST_NAMED]
    more = "; audit.json lists the others" if lasting.count > len(named) else ""
    return (
        f"{words.name(lasting.body)}: {lasting.count} {stay} hot from view to view, in "
        f"{words.counted(lasting.frames, 'frame')} looked at. Row/column: {', '.join(named)}{more}."
    )
