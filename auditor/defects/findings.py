"""What was lost or added without light: damage and hot pixels."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING

from auditor.defects.limits import HOT_FROM_S
from auditor.findings.base import FrameView, finding
from auditor.model.findings import Finding, FindingCode, Severity

if TYPE_CHECKING:
    # Only named here: explaining a finding must not wait for the array libraries.
    from auditor.model.measurement import DamageSign


def find_damaged_data(view: FrameView) -> Iterator[Finding]:
    """Tell each sign of damage that cannot be chance."""
    for sign in view.damage:
        if sign.kind.certain:
            yield _told(FindingCode.DAMAGED_DATA, Severity.LOST, sign)


def find_may_be_damaged(view: FrameView) -> Iterator[Finding]:
    """Tell each sign of damage that may be none."""
    for sign in view.damage:
        if not sign.kind.certain:
            yield _told(FindingCode.MAY_BE_DAMAGED, Severity.RISK, sign)


def _told(code: FindingCode, severity: Severity, sign: DamageSign) -> Finding:
    told = finding(code, severity, sign.share, unit="share of the frame")
    return replace(told, figures={**sign.figures, "sign": sign.kind.value})


def find_hot_pixels(view: FrameView) -> Iterator[Finding]:
    """Tell of more hot pixels than the limit, in exposures long enough to grow them."""
    hot, limit = view.result.hot_pixels, view.settings.judge.hot_limit_per_megapixel
    exposure = view.result.exposure
    time_s = exposure.time_s
    if hot is None or hot.per_megapixel < limit or (time_s is not None and time_s < HOT_FROM_S):
        return
    yield finding(
        FindingCode.HOT_PIXELS,
        Severity.NOTE,
        hot.per_megapixel,
        limit=limit,
        unit="per megapixel",
        # As the dial names it: the true 32 s beside a frame of 30 s would read as another frame's.
        time_s=None if time_s is None else exposure.nominal_time_s or time_s,
    )
