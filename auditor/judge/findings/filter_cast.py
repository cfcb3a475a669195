"""A filter that colours."""

from __future__ import annotations

from collections.abc import Iterator

from auditor.judge.findings.base import ShootView, finding
from auditor.light.casts import LEAST_CAST_STOPS, cast_word, strongest_cast
from auditor.model.findings import Finding, FindingKind, Severity
from auditor.model.numbers import counted_stops

KIND = FindingKind(
    code="filter-cast",
    title="Colour cast of the filter",
    severity=Severity.NOTE,
    meaning="The filter held back one colour more than green: the long frame turns to the other "
    "side. Raw data take the correction well unless that channel is short of light.",
    measured="Filter stops of red and blue less those of green.",
    next_time="Set the white balance for the filtered frame on its own, and give the weak channel "
    "the light it lacks.",
)


def find(view: ShootView) -> Iterator[tuple[str, Finding]]:
    """Tell of the stronger cast of each pair."""
    for pair in view.grouping.siblings:
        strongest = strongest_cast(pair.cast_stops) if pair.best else None
        if strongest is None:
            continue
        colour, cast = strongest
        name = {"R": "red", "B": "blue"}.get(colour, colour)
        more = "more" if cast > 0 else "less"
        yield (
            pair.long,
            finding(
                KIND,
                f"The filter held back {name} {counted_stops(abs(cast), digits=2)} {more} than "
                f"green: a {cast_word(pair.cast_stops)} cast.",
                cast,
                limit=LEAST_CAST_STOPS,
                unit="stops",
                channel=colour,
            ),
        )
