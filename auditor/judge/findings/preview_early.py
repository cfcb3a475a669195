"""The camera's preview clips before the sensor does."""

from __future__ import annotations

from collections.abc import Iterator

from auditor.judge.findings.base import FrameView, finding, is_lit
from auditor.model.findings import Finding, FindingKind, Severity
from auditor.model.numbers import share_text, stops_text

KIND = FindingKind(
    code="preview-early",
    title="Preview cries out early",
    severity=Severity.NOTE,
    meaning="The picture on the back of the camera, and the histogram drawn from it, clip before "
    "the sensor does. Trusting it costs light.",
    measured="Per channel, log2 of saturation over the raw signal at which the preview reaches "
    "254 of 255; white balance multipliers above 1 explain a part of it.",
    next_time="Let the channel that cries first run past the right edge of the camera's histogram, "
    "by the stops told here less a third for safety.",
)


def find(view: FrameView) -> Iterator[Finding]:
    """Tell of a preview that clips earlier than the limit."""
    preview, limit = view.result.preview, view.settings.judge.preview_limit_stops
    if preview is None or not is_lit(view.result) or not preview.cries_early_stops:
        return
    channel, stops = max(preview.cries_early_stops.items(), key=lambda item: item[1])
    if stops < limit:
        return
    balance = preview.by_white_balance_stops.get(channel, 0.0)
    because = f", {stops_text(balance)} of it by white balance" if balance > 0.05 else ""
    yield finding(
        KIND,
        f"The preview clips {channel} {stops_text(stops)} stops before the sensor does{because}; "
        f"it shows {share_text(preview.blown_fraction)} blown, the raw data hold "
        f"{share_text(view.result.blown_fraction or 0)}.",
        stops,
        limit=limit,
        unit="stops",
        channel=channel,
    )
