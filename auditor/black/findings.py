"""What black has to say."""

from __future__ import annotations

from collections.abc import Iterator

from auditor.findings.base import FrameView, finding
from auditor.model.findings import Finding, FindingKind, Severity

BLACK_DISAGREES = FindingKind(
    code="black-disagrees",
    title="Black level corrected",
    severity=Severity.NOTE,
    meaning="The pixels that no light reaches lie off the black level that the file claims; the "
    "border's own level was used.",
    measured="Robust mean of the masked border against the tag, beyond the border's standard "
    "error.",
    next_time="Nothing. A large difference on long exposures tells of warmth.",
)


def find_black_disagrees(view: FrameView) -> Iterator[Finding]:
    """Tell of the plane that differs most, when it differs by more than one DN."""
    if not view.masked_black:
        return
    name, (tag_dn, border_dn) = max(
        view.masked_black.items(), key=lambda item: abs(item[1][0] - item[1][1])
    )
    difference = border_dn - tag_dn
    if abs(difference) < 1.0:
        return
    yield finding(
        BLACK_DISAGREES,
        f"Black of {name} is {border_dn:.1f} DN on the masked border, {tag_dn:.1f} in the file.",
        difference,
        limit=1.0,
        unit="DN",
        channel=name,
    )
