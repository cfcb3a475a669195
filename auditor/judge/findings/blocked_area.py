"""A part of the picture is under the noise floor."""

from __future__ import annotations

from collections.abc import Iterator

from auditor.judge.findings.base import FrameView, finding, is_lit
from auditor.model.findings import Finding, FindingKind, Severity
from auditor.model.numbers import counted_stops, share_text

KIND = FindingKind(
    code="blocked-area",
    title="Blocked-up area",
    severity=Severity.LOST,
    meaning="In a part of the picture every channel lies under the noise floor: lifting it brings "
    "up noise, not stone.",
    measured="Share of the frame whose local mean is under the noise floor in every plane; the "
    "floor is the signal at which one pixel's signal-to-noise ratio is 1 (EMVA 1288).",
    next_time="Give more light where the bright end has room; otherwise bracket, or balance the "
    "sky with a graduated filter and expose for the ground.",
)


def find(view: FrameView) -> Iterator[Finding]:
    """Tell of a blocked share above the limit."""
    result, limits = view.result, view.settings.judge
    share = result.blocked_fraction
    if not is_lit(result) or share is None or share < limits.blocked_limit:
        return
    patch, spare = result.largest_blocked_area, result.spare_stops
    where = f", the largest patch {patch.where}" if patch else ""
    # From the limit on, a finding of its own tells of light left unused.
    told = spare is not None and spare >= limits.spare_limit_stops
    room = f" The bright end had {counted_stops(spare)} in hand." if spare and not told else ""
    yield finding(
        KIND,
        f"{share_text(share)} of the frame is under the noise floor{where}.{room}",
        share,
        limit=limits.blocked_limit,
        unit="share of the frame",
    )
