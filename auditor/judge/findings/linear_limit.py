"""Tones above the level to which the file promises linearity."""

from __future__ import annotations

from collections.abc import Iterator

from auditor.judge.findings.base import FrameView, finding, is_lit
from auditor.model.findings import Finding, FindingKind, Severity
from auditor.model.numbers import counted_stops, stops_between

KIND = FindingKind(
    code="linear-limit",
    title="Above the linear range",
    severity=Severity.NOTE,
    meaning="The bright end lies between the level to which the maker promises linearity and the "
    "level at which the sensor clips: tones there are recorded, their colour may drift.",
    measured="Bright end against the linearity limit in the file.",
    next_time="Where colour in the brightest tones matters, stay under the limit.",
)


def find(view: FrameView) -> Iterator[Finding]:
    """Tell of the first channel whose bright end is above its limit, yet not blown."""
    for channel in view.result.channels:
        if channel.linear_limit_dn is None or not is_lit(view.result):
            continue
        span_dn = channel.saturation_dn - channel.black_dn
        limit = stops_between(span_dn, channel.linear_limit_dn - channel.black_dn)
        room = channel.headroom_stops
        if limit is not None and room is not None and 0 < room < limit:
            yield finding(
                KIND,
                f"{channel.name} ends {counted_stops(room)} under clipping; the file promises "
                f"linearity only to {counted_stops(limit)} under it.",
                room,
                limit=limit,
                unit="stops",
                channel=channel.name,
            )
            return
