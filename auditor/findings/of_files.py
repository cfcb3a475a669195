"""What the file itself has to say: copies, and exposures that it does not hold."""

from __future__ import annotations

from collections.abc import Iterator

from auditor.findings.base import FrameView, finding
from auditor.model.codes import FrameStatus
from auditor.model.errors import FailureKind
from auditor.model.facts import DifferingCopy
from auditor.model.findings import Finding, FindingCode, Severity


def find_copy_elsewhere(view: FrameView) -> Iterator[Finding]:
    """Tell where the copy lies."""
    if view.result.also_at:
        yield finding(FindingCode.COPY_ELSEWHERE, Severity.NOTE, places=view.result.also_at)


_STATE = {True: "whole", False: "damaged", None: "unread"}


def find_copies_differ(view: FrameView) -> Iterator[Finding]:
    """Tell which of the copies is whole."""
    result = view.result
    if result.differing_copies:
        whole = None if result.error else not view.damage
        if result.error and result.error.kind is FailureKind.DAMAGED:
            whole = False
        copies = (DifferingCopy(result.id, result.input + 1, whole), *result.differing_copies)
        yield finding(
            FindingCode.COPIES_DIFFER,
            Severity.RISK,
            copies=tuple(copy.id for copy in copies),
            cards=tuple(str(copy.card) for copy in copies),
            state=tuple(_STATE[copy.whole] for copy in copies),
        )


def find_exposure_unknown(view: FrameView) -> Iterator[Finding]:
    """Tell which of the three is absent."""
    if view.result.status != FrameStatus.MEASURED:
        return
    exposure = view.result.exposure
    parts = {"shutter time": exposure.time_s, "aperture": exposure.f_number, "ISO": exposure.iso}
    absent = tuple(name for name, value in parts.items() if value is None)
    if absent:
        yield finding(FindingCode.EXPOSURE_UNKNOWN, Severity.NOTE, absent=absent)
