"""Only points are blown: glitter, lamps, the sun's own disk."""

from __future__ import annotations

from collections.abc import Iterator

from auditor.judge.findings.base import FrameView, finding, is_lit, worst_channel
from auditor.model.findings import Finding, FindingKind, Severity
from auditor.model.numbers import share_text

KIND = FindingKind(
    code="blown-points",
    title="Blown points only",
    severity=Severity.NOTE,
    meaning="A few scattered points clip: glitter on water, lamps, wet stone. They belong to the "
    "picture and need no correction.",
    measured="Some pixels reach the clipping level, but no connected patch is larger than the "
    "limit for specular points. Very many of them count as a loss.",
    next_time="Nothing. Do not underexpose a whole frame to save its glitter.",
)


def find(view: FrameView) -> Iterator[Finding]:
    """Tell of clipped pixels where no patch is large."""
    result, limits = view.result, view.settings.judge
    patch = result.largest_blown_area
    small = patch is None or patch.share < limits.patch_limit
    if not is_lit(result) or not result.blown_fraction or not small:
        return
    many = result.blown_fraction >= limits.blown_limit
    yield finding(
        KIND,
        f"{share_text(result.blown_fraction)} of the frame is blown, in "
        f"{'very many ' if many else ''}scattered points.",
        result.blown_fraction,
        limit=limits.blown_limit,
        unit="share of the frame",
        channel=worst_channel(result).name,
        severity=Severity.RISK if many else None,
    )
