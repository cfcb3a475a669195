"""A sky that a graduated filter would have balanced."""

from __future__ import annotations

from collections.abc import Iterator

from auditor.judge.findings.base import ShootView, finding, may_be_sun
from auditor.light.cautions import EYES_IN_SHORT
from auditor.light.graduated import left_brighter
from auditor.model.audit import FrameResult
from auditor.model.findings import Finding, FindingKind, Severity
from auditor.model.numbers import counted_stops

KIND = FindingKind(
    code="sky-over-ground",
    title="Sky far above the ground",
    severity=Severity.NOTE,
    meaning="The sky stands so far above the ground that one exposure serves one of them.",
    measured="Median tone above the horizon over the median below it; told where the frame lost "
    "an end.",
    next_time="Hold the sky back with a graduated filter about a stop weaker than it stands "
    "over the ground, or take a bracket.",
    caution=EYES_IN_SHORT,
)


def find(view: ShootView) -> Iterator[tuple[str, Finding]]:
    """Tell of frames that lost an end and whose sky a common strength would balance."""
    for sky in view.grouping.skies:
        result = view.results[sky.frame]
        over, strength = sky.sky_over_ground_stops, sky.common_strength_stops
        if over is None or strength is None or not _lost_an_end(result):
            continue
        yield (
            sky.frame,
            finding(
                KIND,
                _text(over, strength, at_least=sky.at_least),
                over,
                unit="stops",
            ),
        )


def _lost_an_end(result: FrameResult) -> bool:
    """Whether a grad would have helped: none holds the sun itself."""
    if result.verdict == "blown":
        return not may_be_sun(result)
    return result.verdict not in ("held", "dark frame")


def _text(over: float, strength: float, *, at_least: bool) -> str:
    grad = f"a graduated filter of {counted_stops(strength, digits=0)}"
    if at_least:
        return (
            f"The sky stands at least {counted_stops(over)} over the ground; {grad} or more "
            "would have held it back."
        )
    return (
        f"The sky stands {counted_stops(over)} over the ground; {grad} would have left it "
        f"{left_brighter(over, strength)}."
    )
