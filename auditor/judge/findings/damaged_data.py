"""Picture data lost without the decoder noticing."""

from __future__ import annotations

from collections.abc import Iterator

from auditor.judge.findings.base import FrameView, finding
from auditor.model.findings import Finding, FindingKind, Severity
from auditor.model.numbers import share_text

KIND = FindingKind(
    code="damaged-data",
    title="Damaged picture data",
    severity=Severity.LOST,
    meaning="A part of the picture is not what the sensor recorded: a bad block on the card, or a "
    "copy that broke off.",
    measured="Constant blocks, empty rows and jumps between rows that no scene makes, and the "
    "digest that some files carry.",
    next_time="Copy the file again from the card, and retire a card that does this twice.",
)


def find(view: FrameView) -> Iterator[Finding]:
    """Tell each sign of damage."""
    for sign in view.damage:
        yield finding(
            KIND,
            f"{sign.text} ({share_text(sign.share)} of the frame)",
            sign.share,
            unit="share of the frame",
        )
