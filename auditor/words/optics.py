"""Lens, optics and print in words: each figure with its formula, and what could not be told."""

from __future__ import annotations

import math
from collections.abc import Iterator

from auditor.light.optics import (
    AIRY_FORMULA,
    CIRCLE_FORMULA,
    FAR_FORMULA,
    GREEN_NM,
    HYPERFOCAL_FORMULA,
    NEAR_FORMULA,
)
from auditor.model.audit import FrameResult, PrintFit
from auditor.model.numbers import counted_stops, stops_text
from auditor.model.optics import FrameOptics, LensShading, NoShading
from auditor.model.settings import PrintSettings
from auditor.print.fit import paper_words
from auditor.words import values
from auditor.words.values import Fact


def optics_facts(frame: FrameResult) -> Iterator[Fact]:
    """Tell hyperfocal distance, depth of field and diffraction; a reason where one is unknown."""
    if frame.optics is not None:
        yield from _depth_facts(frame.optics)
        if frame.optics.diffraction is not None:
            spread, pitch_um = frame.optics.diffraction, frame.optics.pitch_um
            formula = f"{AIRY_FORMULA} with λ = {GREEN_NM:.0f} nm"
            text = f"Airy disk {spread.airy_um:.1f} µm"
            if spread.airy_pixels is not None and pitch_um is not None:
                text += f" over pixels of {pitch_um:.3g} µm: {spread.airy_pixels:.1f} of them"
            if spread.from_f_number is not None:
                formula += f"; two pixels wide from {values.f_number(spread.from_f_number)} on"
            yield Fact("Diffraction", text, formula)


def _depth_facts(optics: FrameOptics) -> Iterator[Fact]:
    depth, unknown = optics.depth, Fact("Depth of field", "not known", " ".join(optics.reasons))
    if depth is None:
        yield unknown
        return
    circle, pitch_um = f"{depth.circle_mm:.3f} mm", optics.pitch_um
    if pitch_um is not None:
        circle += f" ({1000.0 * depth.circle_mm / pitch_um:.1f} pixels)"
    yield Fact(
        "Hyperfocal distance",
        f"{distance(depth.hyperfocal_m)}: focused there, sharp from "
        f"{distance(depth.hyperfocal_near_m)} to infinity",
        f"{HYPERFOCAL_FORMULA} with c = {circle}; {CIRCLE_FORMULA}",
    )
    if depth.focus_m is None or depth.near_m is None or depth.far_m is None:
        yield unknown
        return
    near, far, focus = (distance(value) for value in (depth.near_m, depth.far_m, depth.focus_m))
    yield Fact(
        "Depth of field",
        f"{near} to {far}, focused at s = {focus}",
        NEAR_FORMULA if depth.to_infinity else f"{NEAR_FORMULA}, {FAR_FORMULA}",
    )


def distance(value_m: float) -> str:
    """Return a distance to two digits: ``88 cm``, ``1.8 m``, ``140 m``, ``1.4 km``, infinity."""
    if math.isinf(value_m):
        return "infinity"
    rounded_m = float(f"{value_m:.2g}")
    for size_m, unit in ((1000.0, "km"), (1.0, "m")):
        if rounded_m >= size_m:
            number = rounded_m / size_m
            return f"{number:.0f} {unit}" if number >= 10.0 else f"{number:.2g} {unit}"
    return f"{100.0 * rounded_m:.2g} cm"


def print_sentence(fit: PrintFit, settings: PrintSettings) -> str:
    """Say whether a frame's tones fit the paper of these settings, and what is lost if not.

    The share in paper white is a lower bound: tones are judged tile by tile, and a tile hides its
    brightest points.
    """
    paper = f"{paper_words(settings)} holds {counted_stops(fit.paper_range_stops)}"
    if fit.unfit_stops is None:
        return f"{paper}; the range of this frame's tones could not be measured."
    if fit.unfit_stops < values.LEVEL_STOPS:
        return f"{paper}, enough for this frame's tones."
    white = fit.merged_white_fraction
    in_white = f"at least {values.share(white)}" if white > 0 else "no more than small points"
    return (
        f"{paper}: compress this frame's tones by {counted_stops(fit.unfit_stops)} for it. Printed "
        f"as it is, {values.share(fit.merged_black_fraction)} would be below paper black, and "
        f"{in_white} would be paper white."
    )


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
        "The frame's tone range is not known, nor then how many stops do not fit.",
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
