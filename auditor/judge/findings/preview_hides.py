"""The raw data are blown where the preview shows nothing."""

from __future__ import annotations

from collections.abc import Iterator

from auditor.judge.findings.base import FrameView, finding, is_lit
from auditor.model.findings import Finding, FindingKind, Severity
from auditor.model.numbers import share_text

KIND = FindingKind(
    code="preview-hides",
    title="Preview hides a loss",
    severity=Severity.RISK,
    meaning="The sensor clips where the camera's preview still shows tone: the loss could not be "
    "seen in the field.",
    measured="Blown share of the raw data above its limit, the preview's under a tenth of it.",
    next_time="With this camera and picture setting, stay further from the right edge.",
)

LIMIT_SHARE = 1e-3
"""Of the frame: less is glitter, which no preview shows."""


def find(view: FrameView) -> Iterator[Finding]:
    """Tell of a raw loss that the preview does not show."""
    result, limit = view.result, LIMIT_SHARE
    blown = result.blown_fraction or 0.0
    if result.preview is None or not is_lit(result) or blown < limit:
        return
    if result.preview.blown_fraction * 10 >= blown:
        return
    yield finding(
        KIND,
        f"The raw data are blown in {share_text(blown)}, the preview shows "
        f"{share_text(result.preview.blown_fraction)}.",
        blown,
        limit=limit,
        unit="share of the frame",
    )
