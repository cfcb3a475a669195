"""What the camera's preview told wrongly."""

from __future__ import annotations

from collections.abc import Iterator

from auditor.findings.base import FrameView, finding, is_lit
from auditor.model.findings import Finding, FindingCode, Severity
from auditor.preview.limits import HIDDEN_SHARE
from auditor.preview.story import least_early


def find_preview_early(view: FrameView) -> Iterator[Finding]:
    """Tell of a preview that clips earlier than the limit, unless more light would lose more."""
    result, limit = view.result, view.settings.judge.preview_limit_stops
    preview = result.preview
    if preview is None or not is_lit(result) or result.verdict.lost_highlights:
        return
    least = least_early(preview.early_by_channel_stops, preview.by_white_balance_stops)
    if least is None or least[1] < limit:
        return
    channel, stops = least
    early, balance = preview.early_by_channel_stops, preview.by_white_balance_stops
    first = max(early, key=lambda name: early[name])
    yield finding(
        FindingCode.PREVIEW_EARLY,
        Severity.NOTE,
        stops,
        limit=limit,
        unit="stops",
        channel=channel,
        own_stops=early[channel],
        first=first,
        first_stops=early[first],
        balance_stops=balance.get(first, 0.0) - balance.get(channel, 0.0),
        preview_blown=preview.blown_fraction,
        blown=result.blown_fraction or 0.0,
    )


def find_preview_hides(view: FrameView) -> Iterator[Finding]:
    """Tell of a raw loss that the preview does not show."""
    result, limit = view.result, HIDDEN_SHARE
    blown = result.blown_fraction or 0.0
    if result.preview is None or not is_lit(result) or blown < limit:
        return
    if result.preview.blown_fraction * 10 < blown:
        yield finding(
            FindingCode.PREVIEW_HIDES,
            Severity.RISK,
            blown,
            limit=limit,
            unit="share of the frame",
            preview_blown=result.preview.blown_fraction,
        )
