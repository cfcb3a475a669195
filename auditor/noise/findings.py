"""What the noise floor has to say: blocked places, dark frames, scenes beyond the sensor."""

from __future__ import annotations

from collections.abc import Iterator

from auditor.findings.base import FrameView, finding, is_lit
from auditor.model.codes import Verdict
from auditor.model.findings import Finding, FindingCode, Severity
from auditor.noise.limits import DARK_FRAME_BLOCKED, DARK_ZERO_SHARE


def find_blocked_area(view: FrameView) -> Iterator[Finding]:
    """Tell of a blocked share above the limit."""
    result, limits = view.result, view.settings.judge
    share = result.blocked_fraction
    if not is_lit(result) or share is None or share < limits.blocked_limit:
        return
    patch, room = result.largest_blocked_area, result.headroom_stops
    # From the limit on, a finding of its own tells of the headroom.
    told = room is not None and room >= limits.headroom_limit_stops
    yield finding(
        FindingCode.BLOCKED_AREA,
        Severity.LOST,
        share,
        limit=limits.blocked_limit,
        unit="share of the frame",
        where=patch.where if patch else None,
        headroom_stops=None if told else room,
    )


def find_dark_frame(view: FrameView) -> Iterator[Finding]:
    """Tell of a dark frame."""
    if view.result.verdict != Verdict.DARK_FRAME:
        return
    share, limit = view.result.blocked_fraction, DARK_FRAME_BLOCKED
    if share is None:
        share = min(channel.zero_fraction for channel in view.result.channels)
        limit = DARK_ZERO_SHARE
    yield finding(FindingCode.DARK_FRAME, Severity.NOTE, share, limit=limit, unit=limit.unit)


def find_noise_unknown(view: FrameView) -> Iterator[Finding]:
    """Tell of planes without a floor."""
    missing = tuple(c.name for c in view.result.channels if c.noise_floor_dn is None)
    if missing and is_lit(view.result):
        yield finding(
            FindingCode.NOISE_UNKNOWN, Severity.NOTE, channel=missing[0], channels=missing
        )


def find_range_too_long(view: FrameView) -> Iterator[Finding]:
    """Tell of a frame that lost both ends."""
    result = view.result
    if result.verdict == Verdict.BOTH:
        yield finding(
            FindingCode.RANGE_TOO_LONG,
            Severity.RISK,
            result.tone_range_stops,
            unit="stops of tone range",
            blown=result.blown_fraction or 0.0,
            blocked=result.blocked_fraction or 0.0,
        )
