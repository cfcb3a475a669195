"""What the file itself has to say: copies, and exposures that it does not hold."""

from __future__ import annotations

from collections.abc import Iterator

from auditor.findings.base import FrameView, finding
from auditor.model.errors import FailureKind
from auditor.model.facts import DifferingCopy
from auditor.model.findings import Finding, FindingKind, Severity
from auditor.words.copies import copies_differ

COPY_ELSEWHERE = FindingKind(
    code="copy-elsewhere",
    title="Copy on another card",
    severity=Severity.NOTE,
    meaning="The same file was found twice, byte for byte; it is judged once for each place.",
    measured="A digest of all bytes (SHA-256).",
    next_time="Nothing: a second card is a good habit.",
)


def find_copy_elsewhere(view: FrameView) -> Iterator[Finding]:
    """Tell where the copy lies."""
    if view.result.also_at:
        yield finding(COPY_ELSEWHERE, f"Also found as {', '.join(view.result.also_at)}.")


COPIES_DIFFER = FindingKind(
    code="copies-differ",
    title="Copies differ",
    severity=Severity.RISK,
    meaning="A file of the same size, beginning and end was found elsewhere with other bytes in "
    "between: one of the two is damaged, or could not be read.",
    measured="A digest of all bytes (SHA-256). Whole is a copy that was measured without a sign of "
    "damage.",
    next_time="Keep the copy that is whole, and test the card that holds the other.",
)


def find_copies_differ(view: FrameView) -> Iterator[Finding]:
    """Tell which of the copies is whole."""
    result = view.result
    if result.differing_copies:
        whole = None if result.error else not view.damage
        if result.error and result.error.kind is FailureKind.DAMAGED:
            whole = False
        own = DifferingCopy(result.id, result.input + 1, whole)
        yield finding(COPIES_DIFFER, copies_differ(own, result.differing_copies))


EXPOSURE_UNKNOWN = FindingKind(
    code="exposure-unknown",
    title="Exposure not recorded",
    severity=Severity.NOTE,
    meaning="Shutter time, aperture or ISO is absent: the frame is measured, but cannot be "
    "paired by its exposure.",
    measured="The metadata hold no value, or one that cannot be.",
    next_time="Nothing, unless a lens without contacts can be entered in the camera by hand.",
)


def find_exposure_unknown(view: FrameView) -> Iterator[Finding]:
    """Tell which of the three is absent."""
    if view.result.status != "measured":
        return
    exposure = view.result.exposure
    parts = {"shutter time": exposure.time_s, "aperture": exposure.f_number, "ISO": exposure.iso}
    absent = [name for name, value in parts.items() if value is None]
    if absent:
        yield finding(EXPOSURE_UNKNOWN, f"The file does not tell its {', '.join(absent)}.")
