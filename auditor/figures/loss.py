"""How grave a loss at the bright end is, in five grades."""

from __future__ import annotations

from auditor.clipping.limits import SMALL_LOSS
from auditor.figures.frame import is_blown
from auditor.findings.base import may_be_sun
from auditor.model.audit import FrameResult
from auditor.model.codes import Loss
from auditor.model.settings import JudgeSettings


def loss_of(result: FrameResult, limits: JudgeSettings) -> Loss | None:
    """Grade a measured frame; None for one that was not measured.

    An area that is not small is lost in all
    channels where that part alone is no longer small; else it may be rebuilt from the others.
    """
    blown = result.blown_fraction
    if blown is None:
        return None
    if not is_blown(blown, result.largest_blown_area, limits):
        return Loss.GLINTS if blown > 0 else Loss.NONE
    if blown < SMALL_LOSS or may_be_sun(result):
        return Loss.PATCH
    everywhere = (result.blown_all_fraction or 0.0) >= SMALL_LOSS
    return Loss.ALL_CHANNELS if everywhere else Loss.CHANNEL
