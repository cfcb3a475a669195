"""The sentences of lens, optics and print: what could not be worked out, how it was rendered."""

from __future__ import annotations

from auditor.model.audit import FrameResult
from auditor.model.numbers import counted_stops, stops_text
from auditor.model.optics import LensShading, NoShading


def optics_reasons(frame: FrameResult) -> tuple[str, ...]:
    """Give the reason of each null in a frame's optics."""
    optics, lens, focus_m = frame.optics, frame.lens, frame.lens.focus_distance_m
    if optics is None:
        return ()
    told = []
    if not optics.f_number:
        told.append("The file does not tell the f-number.")
    if not optics.focal_mm:
        told.append("The file does not tell the focal length.")
    if not optics.crop:
        why = "The two focal lengths in the file fit no sensor"
        if not lens.focal_35mm:
            why = "The file does not tell the focal length in 35 mm terms"
        elif not lens.focal_mm:
            why = "The focal length in 35 mm terms tells nothing without the true one"
        told.append(f"{why}, so the sensor's size is not known.")
    if focus_m is None:
        told.append("The file does not tell the focus distance.")
    elif optics.focal_mm is not None and focus_m * 1000.0 <= optics.focal_mm:
        told.append("The focus distance in the file is shorter than the focal length.")
    return tuple(told)


def print_notes(frame: FrameResult) -> tuple[str, ...]:
    """Say how a frame's tones were laid on paper."""
    raised = frame.headroom_stops or 0.0
    told = f"raised by {counted_stops(raised)} to paper white" if raised >= 0.05 else "as recorded"
    rendering = (
        "Plain rendering: one stop of light is one stop on paper, white-balanced, the brightest "
        f"channel {told}."
    )
    if frame.tone_range_stops is not None:
        return (rendering,)
    return (
        rendering,
        "The frame's tone range could not be told, nor then how many stops do not fit.",
    )


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
