"""A panned run whose frames do not match."""

from __future__ import annotations

from collections.abc import Iterator

from auditor.judge.findings.base import ShootView, finding
from auditor.model.findings import Finding, FindingKind, Severity
from auditor.model.numbers import counted_stops

LIMIT_STOPS = 0.1

KIND = FindingKind(
    code="run-uneven",
    title="Panned run not even",
    severity=Severity.RISK,
    meaning="Exposure or white balance changed inside a run of adjoining frames: the seams will "
    "show, or need work.",
    measured="Spread of the exposure as set, and of the as-shot white balance, over the run.",
    next_time="Set exposure, white balance and focus by hand before the first frame of a run.",
)


def find(view: ShootView) -> Iterator[tuple[str, Finding]]:
    """Tell of runs with a spread or a note, at their first frame."""
    for run in view.grouping.runs:
        if run.exposure_spread_stops < LIMIT_STOPS and not run.notes:
            continue
        notes = " ".join(run.notes)
        yield (
            run.frames[0],
            finding(
                KIND,
                f"Exposure differs by {counted_stops(run.exposure_spread_stops)} over "
                f"{len(run.frames)} frames. {notes}".strip(),
                run.exposure_spread_stops,
                limit=LIMIT_STOPS,
                unit="stops",
            ),
        )
