"""The tripod moved inside a set-up."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from auditor.judge.findings.base import ShootView, finding
from auditor.model.audit import Setup
from auditor.model.findings import Finding, FindingKind, Severity

LIMIT_SHARE = 0.004
"""Of the picture's width: less is the measuring's own uncertainty."""

KIND = FindingKind(
    code="tripod-moved",
    title="Tripod moved",
    severity=Severity.RISK,
    meaning="This frame lies shifted against the one before it in the same set-up: siblings and "
    "brackets must be aligned before they are put together.",
    measured="Phase correlation of the local tones with exposure divided out.",
    next_time="Fit filters with the other hand on the tripod, and check the frame afterwards.",
    caution="Sinking feet on wet sand mean a rising tide or soft ground: mind your way back first.",
)


def find(view: ShootView) -> Iterator[tuple[str, Finding]]:
    """Tell of each step between neighbouring frames above the limit."""
    for setup in view.grouping.setups:
        yield from _steps(setup, view)


def _steps(setup: Setup, view: ShootView) -> Iterator[tuple[str, Finding]]:
    placed = [
        (frame, shift)
        for frame, shift in zip(setup.frames, setup.shift_px, strict=True)
        if shift is not None
    ]
    for (_, before), (frame, after) in pairwise(placed):
        size = view.results[frame].size
        step = max(abs(after[0] - before[0]), abs(after[1] - before[1]))
        if size is None or step < LIMIT_SHARE * max(size.width, size.height):
            continue
        yield (
            frame,
            finding(
                KIND,
                f"Shifted by {_px(after[0] - before[0])} across and "
                f"{_px(after[1] - before[1])} down against the frame before.",
                step,
                limit=LIMIT_SHARE * max(size.width, size.height),
                unit="pixels",
            ),
        )


def _px(shift: float) -> str:
    """Print a signed shift with a true minus sign: ``+24 px``, ``−3 px``, ``0 px``."""
    whole = round(shift)
    sign = "−" if whole < 0 else "+" if whole > 0 else ""
    return f"{sign}{abs(whole)} px"
