"""Frames of a bracket that add nothing."""

from __future__ import annotations

from collections.abc import Iterator

from auditor.judge.findings.base import ShootView, finding
from auditor.model.findings import Finding, FindingKind, Severity

KIND = FindingKind(
    code="bracket-spare",
    title="Bracket longer than the scene",
    severity=Severity.NOTE,
    meaning="Fewer frames of the bracket already record all that the whole set records.",
    measured="The smallest set of frames whose tiles, between floor and saturation, cover what "
    "the whole bracket covers.",
    next_time="A shorter bracket, or a wider step, would have done.",
)


def find(view: ShootView) -> Iterator[tuple[str, Finding]]:
    """Tell it once a bracket, at the first frame needed."""
    for bracket in view.grouping.brackets:
        if not bracket.spare or not bracket.needed:
            continue
        needed = ", ".join(bracket.needed)
        yield (
            bracket.needed[0],
            finding(
                KIND,
                f"{len(bracket.needed)} of {len(bracket.frames)} frames would have done: {needed}.",
                float(len(bracket.spare)),
                unit="frames",
            ),
        )
