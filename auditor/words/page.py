"""Sentences of the report's page, made from codes and figures."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from auditor.advise.outcomes import Outcome
from auditor.advise.suggestions import Basis, Suggestion
from auditor.model.advice import FilterVerdict
from auditor.model.audit import Audit
from auditor.model.codes import BlendJob
from auditor.model.numbers import counted_stops, stops_text, whole_share_text

OUTCOMES = {
    Outcome.LOST: "lost",
    Outcome.MAY_BE_CLIPPED: "may be clipped",
    Outcome.BRACKETED: "bracketed on purpose",
    Outcome.POINTS: "sun or glitter only",
    Outcome.CLEAN: "clean",
    Outcome.DARK: "dark frame",
    Outcome.UNREADABLE: "unreadable",
}
"""What became of a frame, as a page says it."""

OUTCOME_MEANINGS = {
    Outcome.LOST: "An area is blown or blocked up that no other frame of a bracket holds.",
    Outcome.MAY_BE_CLIPPED: "Many pixels lie at the top of all that was recorded; where the "
    "sensor clips is not known.",
    Outcome.BRACKETED: "A part is blown or blocked up, and the frame is one of a bracket.",
    Outcome.POINTS: "Only points are blown, or one small patch lost in every channel, as the sun "
    "leaves it.",
    Outcome.CLEAN: "Nothing is lost.",
    Outcome.DARK: "No light reached the sensor.",
    Outcome.UNREADABLE: "The file could not be read.",
}
"""What each of them means."""


BLEND_JOBS = {
    "all": "holds the whole scene",
    BlendJob.HIGHLIGHTS: "for the highlights",
    BlendJob.MIDDLE_TONES: "for the middle tones",
    BlendJob.SHADOWS: "for the shadows",
}
"""What a blend takes from a frame of a bracket."""


def suggestion_text(suggestion: Suggestion, names: Mapping[str, str]) -> str:
    """Say why a mark is suggested; ``names`` are the frames' short ones, not yet made safe."""
    begun = (reason[:1].upper() + reason[1:] for reason in suggestion.reasons)
    told = " ".join(one if one.endswith((".", "!", "?", "…")) else f"{one}." for one in begun)
    if suggestion.basis is Basis.NEEDED:
        return "needed to cover the range of its bracket"
    if suggestion.basis is Basis.NOT_NEEDED:
        return "its bracket is covered without it"
    if suggestion.basis is Basis.BEHIND and suggestion.ahead is not None:
        behind = f"{names.get(suggestion.ahead, suggestion.ahead)} is ahead of it"
        return f"{behind}. {told}" if told else behind
    return told or "the best of its set-up"


def place_text(latitude_deg: float, longitude_deg: float) -> str:
    """Return a position to a tenth of a degree: ``12.0° N, 3.5° E``."""
    north = "S" if latitude_deg < 0 else "N"
    east = "W" if longitude_deg < 0 else "E"
    latitude, longitude = (stops_text(abs(value)) for value in (latitude_deg, longitude_deg))
    return f"{latitude}° {north}, {longitude}° {east}"


EXACT_STOPS = 0.05
"""A filter nearer to its marking is what it says."""


def found_lines(audit: Audit) -> Iterator[str]:
    """Say what each filter measured, then each graduated one."""
    yield from map(filter_line, audit.filters)
    for grad in dict.fromkeys(
        (round(grad.stops_at_top, 1), round(grad.edge_at, 2)) for grad in audit.grads
    ):
        stops, edge = grad
        yield (
            f"A graduated filter: {counted_stops(stops)} at the top, its edge "
            f"{whole_share_text(edge)} of the height from the top."
        )


def filter_line(verdict: FilterVerdict) -> str:
    """Say what a filter measures: "10-stop filter: 9.7 stops, 0.3 less than marked; cool."."""
    off = verdict.off_marking_stops
    way = "less" if off < 0 else "more"
    marked = (
        f", {counted_stops(abs(off))} {way} than marked"
        if abs(off) >= EXACT_STOPS
        else ", as marked"
    )
    name = verdict.name[:1].upper() + verdict.name[1:]
    pairs = "1 pair" if verdict.pairs == 1 else f"{verdict.pairs} pairs"
    return f"{name}: {counted_stops(verdict.stops)}{marked}; {verdict.cast} ({pairs})."
