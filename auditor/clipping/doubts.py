"""Doubt of a clipping level: what says that more or less may be blown than is counted."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import replace

from auditor.clipping.limits import (
    ALONE,
    BENT_SPREAD,
    BEYOND_TOP,
    BORNE_OUT,
    CODE_UNSURE,
    CODE_UNSURE_OF,
    CODE_WIDE,
    CODE_WIDE_LENT,
    CROWD_CODES,
    CROWD_FAR,
    CROWD_LEAST,
    CROWD_NEAR,
    CROWD_SLIGHT,
    CROWD_SLIGHT_LEAST,
    CROWD_SPREADS,
    CROWD_SURE,
    CROWDED,
    END_LEAST,
    END_PILED,
    END_WIDE,
    ENDS_ALIKE,
    ENDS_HARD,
    FEW_IN_MODE,
    LOOSEST,
    MANY_NEAR_TOP,
    NEAR_TOP,
    STEADIEST,
)
from auditor.model.clip_evidence import ClipEvidence, JustUnder, LevelKey, PlaneEvidence
from auditor.model.codes import LevelSource
from auditor.model.measurement import Level, PlaneMeasurement
from auditor.model.remark import RemarkCode, remark

Led = Mapping[LevelKey, Sequence[float]]
"""The pile-ups that light leads up to, DN, by key."""

CROWD_LOOKS = 4
"""Reaches under the level that are looked at, each twice the one before."""


def doubted(
    frame: ClipEvidence,
    plane: PlaneEvidence,
    level: Level,
    reached: Mapping[LevelKey, float],
    led: Led,
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
    led : mapping of LevelKey to sequence of float
        The pile-ups of frames of one key that light leads up to, DN.
    """
    own = level.source is LevelSource.MEASURED
    lenders = [other for other in frame.planes if other.pile_up is not None]
    unsure = [_no_one_level(frame, other, led) for other in lenders]
    lent = level.source is LevelSource.CHANNELS and all(unsure)
    if plane.clips_apart or lent or (own and _no_one_level(frame, plane, led)):
        apart = remark(RemarkCode.CLIPS_APART)
        return replace(level, may_clip=True, remarks=(*level.remarks, apart))
    # one colour may be a wall as bright as that, unless no other clips
    crowd = {other.name[0] for other in frame.planes if other.crowded >= CROWD_LEAST}
    clip = {other.name[0] for other in frame.planes if other.pile_up is not None}
    crowding = own and (len(crowd) >= min(2, max(1, len(clip))) or _slightly_crowded(frame))
    cut = _cut_at(frame, plane)
    if crowding or cut:
        filled = [RemarkCode.FILLED_IN] if any(own.top_half <= END_PILED for own in cut) else []
        shapes = [RemarkCode.CROWDED_TOP] if crowding else filled
        told = (*level.remarks, *(remark(shape) for shape in shapes))
        return replace(level, may_clip=True, remarks=told)
    coarse = _coarse(plane, level)
    if coarse or (own and plane.next_code >= CODE_UNSURE):
        code = remark(RemarkCode.COARSE_TOP, step_dn=plane.code_dn, share=plane.next_code)
        level = replace(level, may_clip=coarse, remarks=(*level.remarks, code))
    if coarse:
        return level
    # as many as may be clipped, or fewer at the top of another colour that has as many
    alike = plane.near_top >= FEW_IN_MODE and any(
        abs(other.top_dn - plane.top_dn) <= NEAR_TOP * plane.reach_dn and _many_at_top(other)
        for other in frame.planes
    )
    over = level.source is LevelSource.METADATA and plane.over_claim >= FEW_IN_MODE
    if own or plane.reach_dn <= 0 or not (alike or over or _many_at_top(plane)):
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
    # beyond its claim the file itself says that pixels are clipped
    return level if beyond and not over else replace(level, may_clip=True)


def _no_one_level(frame: ClipEvidence, plane: PlaneEvidence, led: Led) -> bool:
    """Tell whether a pile-up is looser than sensors clip, or may be made of something else.

    Something made pixels brighter after they clipped, or others clip higher, where many lie clearly
    above it in any colour. Where no light leads up to those of a frame and one is looser than most
    sensors clip, they may be a wall's, whose noise a bend narrows; unless light leads up to that
    level elsewhere.
    """
    heap = plane.pile_up
    if heap is None:
        return False
    walls = plane.leads_up < ALONE and any(
        other.leads_up < ALONE and _loose(other, BENT_SPREAD) for other in frame.planes
    )
    near_dn = BORNE_OUT * heap.level_dn
    alike = [
        other
        for other in frame.planes
        if other.pile_up is not None and abs(other.pile_up.level_dn - heap.level_dn) <= near_dn
    ]
    changed = any(other.beyond >= CROWD_LEAST for other in alike)
    alone = walls and not (
        any(other.leads_up >= ALONE for other in alike)
        or any(
            abs(level_dn - heap.level_dn) <= near_dn
            for other in frame.planes
            for level_dn in led.get(frame.key(other.name), ())
        )
    )
    return alone or changed or _loose(plane, LOOSEST)


def _loose(plane: PlaneEvidence, share: float) -> bool:
    heap = plane.pile_up
    return heap is not None and heap.spread_dn > share * (heap.level_dn - plane.black_dn)


def _slightly_crowded(frame: ClipEvidence) -> bool:
    """Tell whether all colours together crowd a little, whichever of them is left out."""
    more: dict[str, float] = defaultdict(float)
    under = [(own.name[0], own.just_under) for own in frame.planes if own.just_under is not None]
    for colour, told in under:
        more[colour] += told.pixels - told.expected
    most = max(more, key=lambda colour: more[colour], default="") if len(more) > 1 else ""
    kept = [told for colour, told in under if colour != most]
    seen, expected = sum(own.pixels for own in kept), sum(own.expected for own in kept)
    total = sum(own.total for own in kept)
    # what lies farther down is counted over three times the width, and is as uncertain
    error = math.sqrt(expected * (1.0 + 1.0 / (CROWD_FAR - 2.0)))
    return (
        seen > 0
        and seen >= CROWD_SLIGHT * expected
        and seen - expected >= max(CROWD_SURE * error, CROWD_SLIGHT_LEAST * total)
    )


def _cut_at(frame: ClipEvidence, plane: PlaneEvidence) -> list[PlaneEvidence]:
    """Return the planes whose light is cut at a level that this one reaches, and piles up unseen.

    What was clipped there was filled in, or too little is known to find it. Light of two colours
    must end alike, or of the only one.
    """
    reach_dn = plane.reach_dn / (1.0 - ENDS_ALIKE)
    hard = [
        own
        for own in frame.planes
        if own.reach_dn <= reach_dn
        and own.top_half >= ENDS_HARD
        and (own.top_half <= END_PILED or own.pile_up is None)
    ]
    colours = {own.name[0] for own in frame.planes}
    return [
        one
        for one in hard
        if colours == {one.name[0]}
        or any(
            other.name[0] != one.name[0]
            and abs(other.reach_dn - one.reach_dn) <= ENDS_ALIKE * one.reach_dn
            for other in hard
        )
    ]


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


def top_half(plane: PlaneMeasurement, top_dn: int, code_dn: float) -> float:
    """Return what share of the pixels at the very top lies in its upper half.

    Little where noise or a scene ends, for they fade; most where pixels pile up; half where light
    is cut and nothing piles up. 0 where too few pixels or codes tell.

    Parameters
    ----------
    top_dn : int
        The highest DN that more than a few pixels reach.
    code_dn : float
        Distance of the codes at the top.
    """
    wide_dn = END_WIDE * (top_dn - plane.black_dn)
    half, whole = (plane.histogram.at_or_above(top_dn - share * wide_dn) for share in (0.5, 1.0))
    told = wide_dn >= CROWD_CODES * code_dn and whole >= max(1.0, END_LEAST * plane.pixels)
    return half / whole if told else 0.0


def crowded(plane: PlaneMeasurement, code_dn: float) -> float:
    """Return what share of a plane crowds under its pile-up, over what lies farther down.

    Light spreads over levels, whatever cuts it. A response that bends over before it clips gathers
    in the last percent what light spread over more; whatever smooths, averages or joins pixels
    after they clip leaves those at the rim of what is blown a little under the level. About as many
    more may be blown as crowd there. 0 where there is too little to tell by.

    Parameters
    ----------
    code_dn : float
        Distance of the codes at the top.
    """
    most = 0.0
    for look in range(CROWD_LOOKS):
        seen, even = _just_under(plane, code_dn, 2.0**look * CROWD_NEAR)
        if seen >= CROWDED * even:
            most = max(most, seen - even)
    return most / max(1, plane.pixels)


def just_under(plane: PlaneMeasurement, code_dn: float) -> JustUnder | None:
    """Return what lies just under a pile-up as sharp as most sensors make, None where none is."""
    heap = plane.pile_up
    if heap is None or heap.spread_dn > BENT_SPREAD * (heap.level_dn - plane.black_dn):
        return None
    pixels, expected = _just_under(plane, code_dn, CROWD_NEAR)
    return JustUnder(pixels=pixels, expected=expected, total=plane.pixels)


def _just_under(plane: PlaneMeasurement, code_dn: float, near: float) -> tuple[int, float]:
    """Return how many pixels lie so near under a pile-up, and how many are expected to.

    None of either where there is no pile-up, or too few codes are left under it.
    """
    heap, at_or_above = plane.pile_up, plane.histogram.at_or_above
    if heap is None:
        return 0, 0.0
    # below the edge: what clips loosely lies there as well
    loose_dn, near_dn = CROWD_SPREADS * heap.spread_dn, near * (heap.level_dn - plane.black_dn)
    width_dn = near_dn - loose_dn
    if width_dn < CROWD_CODES * code_dn:
        return 0, 0.0
    upper, lower, middle, far = (
        at_or_above(heap.from_dn - down_dn)
        for down_dn in (loose_dn, near_dn, 2.0 * near_dn, CROWD_FAR * near_dn)
    )
    return lower - upper, (far - middle) / ((CROWD_FAR - 2.0) * near_dn) * width_dn
