"""What is said of the lens."""

from __future__ import annotations

from auditor.model.numbers import stops_text
from auditor.model.optics import LensShading, NoShading

_WHY_NOT = {
    NoShading.SCENE: "not measurable: the scene's own tones vary too much",
    NoShading.LIGHT: "not measurable: the light itself is uneven",
    NoShading.CLIPPED: "not measurable: too much of the frame clips",
    NoShading.DARK: "not measurable: too much of the frame is dark",
    NoShading.TOO_SMALL: "not measurable: the picture is too small",
}


def shading_text(shading: LensShading | None) -> str:
    """Say how much darker the corners are, or why it cannot be told; empty if never measured."""
    if shading is None:
        return ""
    if shading.corner_stops is None:
        return "" if shading.reason is None else _WHY_NOT[shading.reason]
    side = "darker" if shading.corner_stops < 0.0 else "brighter"
    return f"corners {stops_text(abs(shading.corner_stops))} stops {side} than the centre"


def shading_error_text(shading: LensShading | None) -> str:
    """Say how sure that is."""
    error = None if shading is None else shading.error_stops
    return "" if error is None else f"± {stops_text(max(error, 0.1))} stops"
