"""Hot pixels, as long exposures grow them."""

from __future__ import annotations

from collections.abc import Iterator

from auditor.judge.findings.base import FrameView, finding
from auditor.model.findings import Finding, FindingKind, Severity
from auditor.model.numbers import time_text

KIND = FindingKind(
    code="hot-pixels",
    title="Hot pixels",
    severity=Severity.NOTE,
    meaning="Single pixels far above their neighbours, as they grow with time and warmth.",
    measured="Isolated pixels far above all same-coloured neighbours, against the local noise, "
    "per megapixel; told of exposures of a second and longer, and of those of unknown time, for in "
    "short ones an isolated speck is more often glitter or texture.",
    next_time="Let the body cool between long exposures, or take a dark frame of the same time.",
)

LONG_S = 1.0


def find(view: FrameView) -> Iterator[Finding]:
    """Tell of more hot pixels than the limit."""
    hot, limit = view.result.hot_pixels, view.settings.judge.hot_limit_per_megapixel
    exposure = view.result.exposure
    time_s = exposure.time_s
    if hot is None or hot.per_megapixel < limit or (time_s is not None and time_s < LONG_S):
        return
    # As the dial names it: the true 32 s beside a frame of 30 s would read as another frame's.
    after = "" if time_s is None else f" after {time_text(exposure.nominal_time_s or time_s)}"
    yield finding(
        KIND,
        f"{hot.per_megapixel:.0f} hot pixels a megapixel{after}.",
        hot.per_megapixel,
        limit=limit,
        unit="a megapixel",
    )
