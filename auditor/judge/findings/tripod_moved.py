"""The tripod moved inside a set-up."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from auditor.group.likeness import SURE_CORRELATION
from auditor.judge.findings.base import ShootView, finding
from auditor.model.audit import Setup
from auditor.model.findings import Finding, FindingKind, Severity

LIMIT_SHARE = 0.004
"""Of the picture's width: less is the measuring's own uncertainty."""

UNSURE_TIMES = 2.0
"""So many times as much is asked where the frames are little alike, as near the noise floor."""

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
    alike = setup.shift_correlation or (None,) * len(setup.frames)
    placed = [
        (frame, shift, unlike)
        for frame, shift, unlike in zip(
            setup.frames, setup.shift_px, map(_unlike, alike), strict=True
        )
        if shift is not None
    ]
    for (_, before, unlike_before), (frame, after, unlike) in pairwise(placed):
        size = view.results[frame].size
        if size is None:
            continue
        right, down = after[0] - before[0], after[1] - before[1]
        limit = LIMIT_SHARE * max(size.width, size.height)
        limit *= UNSURE_TIMES if unlike or unlike_before else 1.0
        if max(abs(right), abs(down)) >= limit:
            yield frame, _moved(right, down, limit)


def _unlike(correlation: float | None) -> bool:
    return correlation is not None and correlation < SURE_CORRELATION


def _moved(right: float, down: float, limit: float) -> Finding:
    text = f"Shifted by {_px(right)} across and {_px(down)} down against the frame before."
    step = max(abs(right), abs(down))
    return finding(KIND, text, step, limit=limit, unit="pixels")


def _px(shift: float) -> str:
    """Print a signed shift with a true minus sign: ``+24 px``, ``−3 px``, ``0 px``."""
    whole = round(shift)
    sign = "−" if whole < 0 else "+" if whole > 0 else ""
    return f"{sign}{abs(whole)} px"
