"""What black has to say."""

from __future__ import annotations

from collections.abc import Iterator

from auditor.black.limits import DISAGREES_DN
from auditor.findings.base import FrameView, finding
from auditor.model.findings import Finding, FindingCode, Severity


def find_black_disagrees(view: FrameView) -> Iterator[Finding]:
    """Tell of the plane that differs most, when it differs by more than rounding."""
    if not view.masked_black:
        return
    name, (tag_dn, border_dn) = max(
        view.masked_black.items(), key=lambda item: abs(item[1][0] - item[1][1])
    )
    if abs(border_dn - tag_dn) >= DISAGREES_DN:
        yield finding(
            FindingCode.BLACK_DISAGREES,
            Severity.NOTE,
            border_dn - tag_dn,
            limit=DISAGREES_DN,
            unit="DN",
            channel=name,
            border_dn=border_dn,
            tag_dn=tag_dn,
            source=view.black_source,
        )
