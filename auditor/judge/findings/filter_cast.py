"""A filter that colours."""

from __future__ import annotations

from collections.abc import Iterator

from auditor.judge.findings.base import ShootView, finding
from auditor.model.findings import Finding, FindingKind, Severity

LIMIT_STOPS = 0.1

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
        if not pair.best or not pair.cast_stops:
            continue
        colour, cast = max(pair.cast_stops.items(), key=lambda item: abs(item[1]))
        if abs(cast) < LIMIT_STOPS:
            continue
        name = {"R": "red", "B": "blue"}.get(colour, colour)
        more = "more" if cast > 0 else "less"
        yield (
            pair.long,
            finding(
                KIND,
                f"The filter held back {name} {abs(cast):.2f} stops {more} than green.",
                cast,
                limit=LIMIT_STOPS,
                unit="stops",
                channel=colour,
            ),
        )
