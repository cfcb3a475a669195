"""The long frame is not placed as the short one."""

from __future__ import annotations

from collections.abc import Iterator

from auditor.judge.findings.base import ShootView, finding
from auditor.light.cautions import GROUND_IN_SHORT
from auditor.light.nominal import nominal_name
from auditor.model.findings import Finding, FindingKind, Severity
from auditor.model.numbers import counted_stops

LIMIT_STOPS = 0.5

KIND = FindingKind(
    code="placement-off",
    title="Long frame placed otherwise",
    severity=Severity.NOTE,
    meaning="Behind the filter the tones landed higher or lower than in the unfiltered sibling.",
    measured="log2 of the long frame's signal over the short frame's, over places that hold still.",
    next_time="Multiply the short frame's time by 2 to the power of the filter's measured stops; "
    "where the light falls meanwhile, give as much more. auditor nd-time reckons both, with "
    "--stops and --drift.",
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
                f"Placed {counted_stops(abs(off))} {where} its short sibling; "
                f"{_matching(pair.matched_time_s)}.",
                off,
                limit=LIMIT_STOPS,
                unit="stops",
            ),
        )


def _matching(matched_s: float | None) -> str:
    if matched_s is None:
        return (
            "no shutter time would have matched, for the light fell too fast: take a thinner "
            "filter, open the aperture or raise the ISO"
        )
    return f"{nominal_name(matched_s)} would have matched"
