"""A connected area is blown."""

from __future__ import annotations

from collections.abc import Iterator

from auditor.judge.findings.base import FrameView, finding, is_lit, may_be_sun, worst_channel
from auditor.light.cautions import EYES_IN_SHORT
from auditor.model.findings import Finding, FindingKind, Severity
from auditor.model.numbers import share_text

KIND = FindingKind(
    code="blown-area",
    title="Blown area",
    severity=Severity.LOST,
    meaning="In a connected part of the picture at least one channel reached the level at which "
    "the sensor clips. Tone and colour there cannot be had back.",
    measured="Share of pattern cells with a pixel at or above the settled clipping level; the "
    "largest connected patch of tiles in which more than half of the cells are.",
    next_time="Give less light by the stops you need, or hold the sky back with a graduated "
    "filter. Judge by the raw share, not by the preview. A small patch lost in every channel may "
    "be the sun or its reflection itself, which no exposure holds: let it go.",
    caution=EYES_IN_SHORT,
)


SUN = " So small a patch may be the sun or its reflection itself: then let it go."


def find(view: FrameView) -> Iterator[Finding]:
    """Tell of a patch that is larger than a specular point."""
    result, limits = view.result, view.settings.judge
    patch = result.largest_blown_area
    if not is_lit(result) or patch is None or patch.share < limits.patch_limit:
        return
    channel = worst_channel(result)
    yield finding(
        KIND,
        f"{share_text(result.blown_fraction or 0.0)} of the frame is blown, most of it in "
        f"{channel.name}; the largest patch covers {share_text(patch.share)} {patch.where}. "
        f"{_in_all(result.blown_all_fraction or 0.0)}{SUN if may_be_sun(result) else ''}",
        patch.share,
        limit=limits.patch_limit,
        unit="share of the frame",
        channel=channel.name,
    )


def _in_all(share: float) -> str:
    if share:
        return f"Every channel is lost in {share_text(share)}."
    return "No place is lost in every channel."
