"""A filter that holds back more or less than it says."""

from __future__ import annotations

from collections.abc import Iterator

from auditor.judge.findings.base import ShootView, finding
from auditor.light.cautions import EYES_IN_SHORT
from auditor.model.audit import Marking
from auditor.model.findings import Finding, FindingKind, Severity
from auditor.model.numbers import counted_stops

LIMIT_STOPS = 0.25

KIND = FindingKind(
    code="filter-off-marking",
    title="Filter off its marking",
    severity=Severity.NOTE,
    meaning="The neutral-density filter held back more or less light than the nearest usual "
    "marking.",
    measured="Exposure difference less log2 of the long frame's signal over the short frame's, "
    "over places that hold still, against the nearest usual marking.",
    next_time="Reckon with the measured stops, not with the marking.",
    caution=EYES_IN_SHORT,
)


def find(view: ShootView) -> Iterator[tuple[str, Finding]]:
    """Tell of each long frame whose filter is off by more than a quarter of a stop."""
    for pair in view.grouping.siblings:
        if not pair.best or abs(pair.off_marking_stops) < LIMIT_STOPS:
            continue
        more = "more" if pair.off_marking_stops > 0 else "less"
        yield (
            pair.long,
            finding(
                KIND,
                f"The filter held back {counted_stops(pair.filter_stops)}: "
                f"{abs(pair.off_marking_stops):.2f} {more} than the nearest marking, "
                f"{_named(pair.nearest_marking)}.",
                pair.off_marking_stops,
                limit=LIMIT_STOPS,
                unit="stops",
            ),
        )


def _named(marking: Marking) -> str:
    """Name a marking as it is written: thirds of a stop have no short figure."""
    return marking.label or counted_stops(marking.stops)
