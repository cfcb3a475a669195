"""The noise floor could not be measured."""

from __future__ import annotations

from collections.abc import Iterator

from auditor.judge.findings.base import FrameView, finding, is_lit
from auditor.model.findings import Finding, FindingKind, Severity

KIND = FindingKind(
    code="noise-unknown",
    title="Noise floor not measured",
    severity=Severity.NOTE,
    meaning="This frame does not tell its read noise or gain, so nothing is said of blocked-up "
    "tones.",
    measured="Neither a masked border, nor areas smooth enough at different brightness, nor a "
    "noise profile in the file.",
    next_time="Nothing; another frame of the same body and ISO on the card may tell.",
)


def find(view: FrameView) -> Iterator[Finding]:
    """Tell of planes without a floor."""
    missing = [c.name for c in view.result.channels if c.noise_floor_dn is None]
    if missing and is_lit(view.result):
        yield finding(KIND, f"No noise floor for {', '.join(missing)}.", channel=missing[0])
