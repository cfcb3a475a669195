"""A frame that no light reached."""

from __future__ import annotations

from collections.abc import Iterator

from auditor.judge.findings.base import FrameView, finding
from auditor.model.findings import Finding, FindingKind, Severity
from auditor.model.numbers import share_text

KIND = FindingKind(
    code="dark-frame",
    title="Dark frame",
    severity=Severity.NOTE,
    meaning="Nothing but noise was recorded: a dark frame taken on purpose, or a cap left on.",
    measured="At least 99.5 % of the frame lies under the noise floor in every plane.",
    next_time="Keep it if it was meant: it maps the hot pixels of that shutter time.",
)


def find(view: FrameView) -> Iterator[Finding]:
    """Tell of a dark frame."""
    if view.result.verdict != "dark frame":
        return
    share = view.result.blocked_fraction
    yield finding(
        KIND,
        f"{share_text(share or 0)} of the frame is under the noise floor: no light came in.",
        share,
        limit=0.995,
        unit="share of the frame",
    )
