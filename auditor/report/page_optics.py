"""One frame's depth of field and diffraction, each with its formula, and how it prints."""

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
from auditor.model.optics import DepthOfField, FrameOptics
from auditor.model.settings import PrintSettings
from auditor.print.fit import paper_words
from auditor.report import words
from auditor.report.page_records import Fact, PrintSheet


def optics_facts(frame: FrameResult) -> tuple[Fact, ...]:
    """Tell hyperfocal distance, depth of field and diffraction; a reason where one is unknown."""
    optics = frame.optics
    return () if optics is None else (*_depth_facts(optics), *_diffraction_facts(optics))


def _depth_facts(optics: FrameOptics) -> Iterator[Fact]:
    depth = optics.depth
    if depth is None:
        yield Fact("Depth of field", "not known", " ".join(optics.reasons))
        return
    yield Fact(
        "Hyperfocal distance",
        f"{distance(depth.hyperfocal_m)}: focused there, sharp from "
        f"{distance(depth.hyperfocal_near_m)} to infinity",
        f"{HYPERFOCAL_FORMULA} with c = {_circle(depth.circle_mm, optics.pitch_um)}; "
        f"{CIRCLE_FORMULA}",
    )
    yield _focused(depth, optics)


def _circle(circle_mm: float, pitch_um: float | None) -> str:
    pixels = "" if pitch_um is None else f" ({1000.0 * circle_mm / pitch_um:.1f} pixels)"
    return f"{circle_mm:.3f} mm{pixels}"


def _focused(depth: DepthOfField, optics: FrameOptics) -> Fact:
    if depth.focus_m is None or depth.near_m is None or depth.far_m is None:
        return Fact("Depth of field", "not known", " ".join(optics.reasons))
    near, far, focus = (distance(value) for value in (depth.near_m, depth.far_m, depth.focus_m))
    return Fact(
        "Depth of field",
        f"{near} to {far}, focused at s = {focus}",
        f"{NEAR_FORMULA}" if depth.to_infinity else f"{NEAR_FORMULA}, {FAR_FORMULA}",
    )


def _diffraction_facts(optics: FrameOptics) -> Iterator[Fact]:
    spread = optics.diffraction
    if spread is None:
        return
    formula = f"{AIRY_FORMULA} with λ = {GREEN_NM:.0f} nm"
    text = f"Airy disk {spread.airy_um:.1f} µm"
    if spread.airy_pixels is not None and optics.pitch_um is not None:
        text += f" over pixels of {optics.pitch_um:.3g} µm: {spread.airy_pixels:.1f} of them"
    if spread.from_f_number is not None:
        formula += f"; two pixels wide from {words.f_number(spread.from_f_number)} on"
    yield Fact("Diffraction", text, formula)


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


def print_sheet(fit: PrintFit, settings: PrintSettings) -> PrintSheet:
    """Word one frame's fit for the paper of these settings."""
    return PrintSheet(
        sentence=_sentence(fit, paper_words(settings)),
        sizes=tuple(
            Fact(
                f"{words.name(ppi)} px an inch",
                f"{width:.0f} × {height:.0f} cm",
                f"seen from {fit.viewing_cm[ppi]:.0f} cm or more" if ppi in fit.viewing_cm else "",
            )
            for ppi, (width, height) in fit.sizes_cm.items()
        ),
        notes=tuple(words.plain(note) for note in fit.notes),
    )


def _sentence(fit: PrintFit, paper_name: str) -> str:
    paper = f"{paper_name} holds {words.stops(fit.paper_range_stops)}"
    if fit.unfit_stops is None:
        return f"{paper}; the range of this frame's tones could not be measured."
    if fit.unfit_stops < 0.05:
        return f"{paper}, enough for this frame's tones."
    stops = words.stops(fit.unfit_stops)
    return (
        f"{paper}: compress this frame's tones by {stops} for it. Printed as it is, "
        f"{words.share(fit.merged_black_fraction)} would be below paper black and "
        f"{_in_white(fit.merged_white_fraction)} paper white."
    )


def _in_white(least: float) -> str:
    """Word a lower bound: tones are judged tile by tile, and a tile hides its brightest points."""
    return f"at least {words.share(least)}" if least > 0 else "small points at most"
