"""Doubt of a clipping level: what says that more or less may be blown than is counted."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from auditor.clipping.limits import (
    BEYOND_TOP,
    CODE_UNSURE,
    CODE_UNSURE_OF,
    CODE_WIDE,
    CODE_WIDE_LENT,
    CROWDED,
    FEW_IN_MODE,
    MANY_NEAR_TOP,
    NEAR_TOP,
    STEADIEST,
)
from auditor.model.clip_evidence import ClipEvidence, LevelKey, PlaneEvidence
from auditor.model.codes import LevelSource
from auditor.model.measurement import Level, PlaneMeasurement
from auditor.model.remark import RemarkCode, remark


def doubted(
    frame: ClipEvidence, plane: PlaneEvidence, level: Level, reached: Mapping[LevelKey, float]
) -> Level:
    """Doubt a claim where many pixels lie at a top that nothing goes beyond.

    Where a plane has several levels, holds much in a code at its edge, or crowds under it, any
    one is doubted.

    Parameters
    ----------
    frame, plane, level
        The plane, with all of its frame, and what its level was settled to.
    reached : mapping of LevelKey to float
        How far over black frames of one key reach, DN.
    """
    own = level.source is LevelSource.MEASURED
    if plane.clips_apart:
        apart = remark(RemarkCode.CLIPS_APART)
        return replace(level, may_clip=True, remarks=(*level.remarks, apart))
    crowds = {other.name[0] for other in frame.planes if other.crowded >= CROWDED}
    if own and len(crowds) > 1:
        crowding = remark(RemarkCode.CROWDED_TOP)
        return replace(level, may_clip=True, remarks=(*level.remarks, crowding))
    if _coarse(plane, level):
        coarse = remark(RemarkCode.COARSE_TOP, step_dn=plane.code_dn)
        return replace(level, may_clip=True, remarks=(*level.remarks, coarse))
    # as many as may be clipped, or fewer at the top of another colour that has as many
    alike = plane.near_top >= FEW_IN_MODE and any(
        abs(other.top_dn - plane.top_dn) <= NEAR_TOP * plane.reach_dn and _many_at_top(other)
        for other in frame.planes
    )
    if own or plane.reach_dn <= 0 or not (alike or _many_at_top(plane)):
        return level
    if level.source is not LevelSource.METADATA:
        # a pile of its own just under the level that others tell, or anywhere if no light is such
        near = level.blown_from_dn - NEAR_TOP * plane.reach_dn <= plane.top_dn < level.blown_from_dn
        near &= plane.near_top >= MANY_NEAR_TOP
        mode, lent = plane.mode, level.source is LevelSource.CHANNELS
        if mode is not None and mode.level_dn < level.blown_from_dn and lent:
            near |= frame.scaled or mode.spread_dn <= STEADIEST * (mode.level_dn - plane.black_dn)
        return replace(level, may_clip=True) if near else level
    others = 0.0 if frame.scaled else max(other.reach_dn for other in frame.planes)
    beyond = (
        max(others, reached.get(frame.reach_key(plane.name), 0.0))
        > (1.0 + BEYOND_TOP) * plane.reach_dn
    )
    return level if beyond else replace(level, may_clip=True)


def _many_at_top(plane: PlaneEvidence) -> bool:
    """Tell whether many pixels lie at the top of a plane, or a mode of their own does."""
    few = plane.mode is not None and plane.mode.share >= FEW_IN_MODE
    return few or plane.near_top >= MANY_NEAR_TOP


def _coarse(plane: PlaneEvidence, level: Level) -> bool:
    """Tell whether one code makes a difference to what is blown.

    A level between two codes falls on both, and a code holds light as well.
    """
    if level.source is LevelSource.METADATA:
        return False
    wide = plane.code_dn / max(1.0, plane.reach_dn)
    if level.source is LevelSource.MEASURED:
        heap = plane.pile_up.share if plane.pile_up else 0.0
        return wide >= CODE_WIDE or plane.next_code >= max(CODE_UNSURE, CODE_UNSURE_OF * heap)
    reached = plane.top_dn >= level.blown_from_dn - plane.code_dn and plane.near_top >= CODE_UNSURE
    return reached and wide >= CODE_WIDE_LENT


def crowded(plane: PlaneMeasurement) -> float:
    """Return how many times denser a plane is just under its pile-up than farther down.

    A response that bends over before it clips gathers in the last percent what light spread over
    more. 0 where there is too little to tell by.
    """
    heap, histogram = plane.pile_up, plane.histogram
    if heap is None:
        return 0.0
    span_dn = heap.level_dn - plane.black_dn
    # as shares of the signal under the level: from where to where, and how much must be left
    just_under, farther_down, least = (0.01, 0.002), (0.05, 0.03), 0.003
    last_dn = max(just_under[1] * span_dn, 2.0 * heap.spread_dn)
    width_dn = just_under[0] * span_dn - last_dn
    if width_dn < least * span_dn:
        return 0.0
    near, far = (
        histogram.at_or_above(heap.from_dn - up_dn) - histogram.at_or_above(heap.from_dn - down_dn)
        for up_dn, down_dn in (
            (just_under[0] * span_dn, last_dn),
            (farther_down[0] * span_dn, farther_down[1] * span_dn),
        )
    )
    if near < FEW_IN_MODE * plane.pixels:
        return 0.0
    return near / width_dn / max(far, 1) * (farther_down[0] - farther_down[1]) * span_dn
