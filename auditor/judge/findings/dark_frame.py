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
    measured="At least 99.5 % of the frame lies under the noise floor in every plane; where no "
    "floor is known, 45 % of each plane's pixels lie at or under black, as read noise alone puts "
    "them. An area that is blown got light.",
    next_time="Keep it if it was meant: it maps the hot pixels of that shutter time.",
)

OF_PLANE = "share of the plane"


def find(view: FrameView) -> Iterator[Finding]:
    """Tell of a dark frame."""
    if view.result.verdict != "dark frame":
        return
    share = view.result.blocked_fraction
    if share is None:
        zero = min(channel.zero_fraction for channel in view.result.channels)
        text = f"In every channel {share_text(zero)} or more of the pixels lie at or under black"
        yield finding(KIND, f"{text}: no light came in.", zero, limit=0.45, unit=OF_PLANE)
        return
    yield finding(
        KIND,
        f"{share_text(share)} of the frame is under the noise floor: no light came in.",
        share,
        limit=0.995,
        unit="share of the frame",
    )
