"""The light changed between siblings."""

from __future__ import annotations

from collections.abc import Iterator

from auditor.judge.findings.base import ShootView, finding
from auditor.model.audit import SiblingPair
from auditor.model.findings import Finding, FindingKind, Severity
from auditor.model.numbers import counted_stops

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
        yield (
            pair.long,
            finding(
                KIND,
                f"The light {_moved(pair, drift, view)}.",
                drift,
                limit=LIMIT_STOPS,
                unit="stops",
            ),
        )


def _moved(pair: SiblingPair, drift: float, view: ShootView) -> str:
    """Tell the change in order of time; the drift itself runs from the short frame to the long."""
    order = next((setup.frames for setup in view.grouping.setups if setup.id == pair.setup), ())
    places = [order.index(frame) for frame in (pair.short, pair.long) if frame in order]
    long_first = len(places) == 2 and places[1] < places[0]
    verb = "rose" if (drift > 0) != long_first else "fell"
    ends = f"this frame to {pair.short}" if long_first else f"{pair.short} to this frame"
    return f"{verb} by {counted_stops(abs(drift))} from {ends}"
