"""The frame could have taken more light."""

from __future__ import annotations

from collections.abc import Iterator

from auditor.judge.findings.base import FrameView, finding, is_lit
from auditor.model.findings import Finding, FindingKind, Severity
from auditor.model.numbers import counted_stops

KIND = FindingKind(
    code="spare-light",
    title="Light left unused",
    severity=Severity.NOTE,
    meaning="The brightest tones end well under the level at which the sensor clips. More light "
    "would have lifted every tone further out of the noise.",
    measured="The least headroom of all planes: log2 of saturation over the bright end, the "
    "signal that all but 0.01 % of the plane stays under, hot pixels left out.",
    next_time="Give the spare stops, less a third of a stop, by a longer shutter; keep base ISO.",
)


def find(view: FrameView) -> Iterator[Finding]:
    """Tell of headroom above the limit."""
    result, limit = view.result, view.settings.judge.spare_limit_stops
    spare = result.spare_stops
    if not is_lit(result) or spare is None or spare < limit:
        return
    least = min(result.channels, key=lambda c: c.headroom_stops or 0.0)
    yield finding(
        KIND,
        f"{counted_stops(spare)} more light would have fitted; {least.name} is the nearest "
        "to clipping.",
        spare,
        limit=limit,
        unit="stops",
        channel=least.name,
    )
