"""The scene spans more than one frame can hold."""

from __future__ import annotations

from collections.abc import Iterator

from auditor.judge.findings.base import FrameView, finding
from auditor.light.cautions import EYES_IN_SHORT
from auditor.model.findings import Finding, FindingKind, Severity
from auditor.model.numbers import share_text

KIND = FindingKind(
    code="range-too-long",
    title="Scene longer than the sensor",
    severity=Severity.RISK,
    meaning="The frame is blown at one end and blocked at the other: no single exposure would "
    "have held both.",
    measured="Blown share and blocked share both above their limits.",
    next_time="Bracket, or bring the sky down with a graduated filter.",
    caution=EYES_IN_SHORT,
)


def find(view: FrameView) -> Iterator[Finding]:
    """Tell of a frame that lost both ends."""
    result = view.result
    if result.verdict != "both":
        return
    yield finding(
        KIND,
        f"{share_text(result.blown_fraction or 0)} blown and "
        f"{share_text(result.blocked_fraction or 0)} blocked in one frame.",
        result.tone_range_stops,
        unit="stops of tone range",
    )
