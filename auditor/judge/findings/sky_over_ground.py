"""A sky that a graduated filter would have balanced."""

from __future__ import annotations

from collections.abc import Iterator

from auditor.judge.findings.base import ShootView, finding
from auditor.light.cautions import EYES_IN_SHORT
from auditor.model.findings import Finding, FindingKind, Severity
from auditor.model.numbers import stops_text

KIND = FindingKind(
    code="sky-over-ground",
    title="Sky far above the ground",
    severity=Severity.NOTE,
    meaning="The sky stands so far above the ground that one exposure serves one of them.",
    measured="Median tone above the horizon over the median below it; told where the frame lost "
    "an end.",
    next_time="A graduated filter of the strength told here, or a bracket.",
    caution=EYES_IN_SHORT,
)


def find(view: ShootView) -> Iterator[tuple[str, Finding]]:
    """Tell of frames that lost an end and whose sky a common strength would balance."""
    for sky in view.grouping.skies:
        result = view.results[sky.frame]
        if sky.common_strength_stops is None or result.verdict in ("held", "dark frame"):
            continue
        yield (
            sky.frame,
            finding(
                KIND,
                f"The sky stands {stops_text(sky.sky_over_ground_stops)} stops over the ground; "
                f"a graduated filter of {sky.common_strength_stops:g} stops would have "
                "balanced it.",
                sky.sky_over_ground_stops,
                unit="stops",
            ),
        )
