"""How grave a loss at the bright end is, in five grades."""

from __future__ import annotations

from auditor.clipping.limits import SMALL_LOSS
from auditor.figures.frame import is_blown
from auditor.findings.base import may_be_sun
from auditor.model.audit import FrameResult
from auditor.model.settings import JudgeSettings

GRAVE = ("channel", "all channels")
"""Grades that lose an area."""


def loss_of(result: FrameResult, limits: JudgeSettings) -> str | None:
    """Grade a measured frame: "none", "glints", "patch", "channel" or "all channels".

    Glints are scattered points; a patch is small, or may be the sun. A larger area is lost in all
    channels where that part alone is no longer small; else it may be rebuilt from the others.
    """
    blown = result.blown_fraction
    if blown is None:
        return None
    if not is_blown(blown, result.largest_blown_area, limits):
        return "glints" if blown > 0 else "none"
    if blown < SMALL_LOSS or may_be_sun(result):
        return "patch"
    return "all channels" if (result.blown_all_fraction or 0.0) >= SMALL_LOSS else "channel"
