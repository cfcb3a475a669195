"""The light changed between siblings."""

from __future__ import annotations

from collections.abc import Iterator

from auditor.judge.findings.base import ShootView, finding
from auditor.model.findings import Finding, FindingKind, Severity
from auditor.model.numbers import stops_text

LIMIT_STOPS = 0.33

KIND = FindingKind(
    code="light-moved",
    title="Light moved meanwhile",
    severity=Severity.NOTE,
    meaning="Between the short frame and its filtered sibling the ambient light rose or fell.",
    measured="Unfiltered frames before and after, at the middle of each exposure.",
    next_time="At dusk add the fall of light to a long exposure, and take an unfiltered frame "
    "before and after.",
)


def find(view: ShootView) -> Iterator[tuple[str, Finding]]:
    """Tell of a drift above a third of a stop."""
    for pair in view.grouping.siblings:
        drift = pair.light_drift_stops
        if not pair.best or drift is None or abs(drift) < LIMIT_STOPS:
            continue
        verb = "rose" if drift > 0 else "fell"
        yield (
            pair.long,
            finding(
                KIND,
                f"The light {verb} by {stops_text(abs(drift))} stops between {pair.short} and "
                "this frame.",
                drift,
                limit=LIMIT_STOPS,
                unit="stops",
            ),
        )
