"""The same frame lies on another card."""

from __future__ import annotations

from collections.abc import Iterator

from auditor.judge.findings.base import FrameView, finding
from auditor.model.findings import Finding, FindingKind, Severity

KIND = FindingKind(
    code="copy-elsewhere",
    title="Copy on another card",
    severity=Severity.NOTE,
    meaning="The same file was found twice, byte for byte as far as compared; it is judged once "
    "for each place.",
    measured="Size and a digest of its parts.",
    next_time="Nothing: a second card is a good habit.",
)


def find(view: FrameView) -> Iterator[Finding]:
    """Tell where the copy lies."""
    if view.result.also_at:
        yield finding(KIND, f"Also found as {', '.join(view.result.also_at)}.")
