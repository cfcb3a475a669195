"""The sentences of dark frames."""

from __future__ import annotations

from collections.abc import Sequence

from auditor.model.advice import DarkFrameNeed
from auditor.model.numbers import time_text


def dark_frame_lines(needs: Sequence[DarkFrameNeed]) -> list[str]:
    """Say which dark frame serves which long exposures, found or still to be taken."""
    return [_line(need) for need in needs]


def _line(need: DarkFrameNeed) -> str:
    names = ", ".join(need.frames)
    iso = f", ISO {need.iso:.0f}" if need.iso else ""
    warm = f", about {need.temperature_c:.0f} °C" if need.temperature_c is not None else ""
    if need.found is None:
        return f"{names}: a dark frame of {time_text(need.time_s)}{iso}{warm} would match."
    shows = f" It shows {need.hot_pixels} of its hot pixels." if need.hot_pixels is not None else ""
    return f"{names}: {need.found} is the dark frame that matches.{shows}"
