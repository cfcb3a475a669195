"""The file does not hold its own exposure."""

from __future__ import annotations

from collections.abc import Iterator

from auditor.judge.findings.base import FrameView, finding
from auditor.model.findings import Finding, FindingKind, Severity

KIND = FindingKind(
    code="exposure-unknown",
    title="Exposure not recorded",
    severity=Severity.NOTE,
    meaning="Shutter time, aperture or ISO is absent: the frame is measured, but cannot be "
    "paired by its exposure.",
    measured="The metadata hold no value, or one that cannot be.",
    next_time="Nothing, unless a lens without contacts can be entered in the camera by hand.",
)


def find(view: FrameView) -> Iterator[Finding]:
    """Tell which of the three is absent."""
    if view.result.status != "measured":
        return
    exposure = view.result.exposure
    parts = {"shutter time": exposure.time_s, "aperture": exposure.f_number, "ISO": exposure.iso}
    absent = [name for name, value in parts.items() if value is None]
    if absent:
        yield finding(KIND, f"The file does not tell its {', '.join(absent)}.")
