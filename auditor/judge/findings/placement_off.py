"""The long frame is not placed as the short one."""

from __future__ import annotations

from collections.abc import Iterator

from auditor.judge.findings.base import ShootView, finding
from auditor.light.cautions import GROUND_IN_SHORT
from auditor.model.findings import Finding, FindingKind, Severity
from auditor.model.numbers import stops_text, time_text

LIMIT_STOPS = 0.5

KIND = FindingKind(
    code="placement-off",
    title="Long frame placed otherwise",
    severity=Severity.NOTE,
    meaning="Behind the filter the tones landed higher or lower than in the unfiltered sibling.",
    measured="log2 of the long frame's signal over the short frame's, over places that hold still.",
    next_time="Use the shutter time told here: the short frame's time multiplied by two to the "
    "measured filter stops.",
    caution=GROUND_IN_SHORT,
)


def find(view: ShootView) -> Iterator[tuple[str, Finding]]:
    """Tell of long frames placed more than half a stop off."""
    for pair in view.grouping.siblings:
        off = pair.placement_difference_stops
        if not pair.best or abs(off) < LIMIT_STOPS:
            continue
        where = "above" if off > 0 else "below"
        yield (
            pair.long,
            finding(
                KIND,
                f"Placed {stops_text(abs(off))} stops {where} its short sibling; "
                f"{time_text(pair.matched_time_s)} would have matched.",
                off,
                limit=LIMIT_STOPS,
                unit="stops",
            ),
        )
