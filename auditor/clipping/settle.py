"""Settle where each channel clips, over all frames of a shoot.

A pile-up seen in the frame itself is the best evidence; then one seen in frames of the same
sensor at the same ISO; then one remembered from earlier shoots; then what the frame's other
channels tell, the twin of a green first. The file's claim comes last, for files often claim more
than the sensor reaches: where many pixels lie at the very top of what no frame goes beyond, the
claim alone does not tell that they are not clipped.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cache
from statistics import median

import numpy as np

from auditor.clipping.doubts import crowded, doubted, just_under, top_half
from auditor.clipping.limits import (
    ABOVE_TAG_SHARE,
    ALONE,
    BEYOND_LEAST_DN,
    BEYOND_SPREADS,
    LEADS_UP,
    LEAST_SISTERS,
    MODULE_CROP,
    MODULE_MM,
    NEAR_TOP,
    OUTLIER_SHARE,
)
from auditor.clipping.modes import top_mode
from auditor.clipping.pile_up import find_pile_up, sharp_or_loose
from auditor.clipping.top import COARSE_STEP_DN
from auditor.model.clip_evidence import ClipEvidence, LevelKey, PlaneEvidence
from auditor.model.codes import Layout, LevelSource
from auditor.model.facts import LensFacts
from auditor.model.measurement import (
    FrameMeasurement,
    Level,
    NoiseEstimate,
    PileUp,
    PlaneMeasurement,
)
from auditor.model.remark import RemarkCode, remark
from auditor.noise.estimate import NoiseModel
from auditor.sensor.code_gaps import code_step_at, code_steps_dn

BLACK_STEPS = 4.0
"""Steps a stop to which the black level tells sensors apart."""

_Edged = tuple[float, float]
"""A clipping level and its lower edge, DN."""

TWICE = 2.0
"""Pixels of a pile-up lie above its centre by up to so many times what lies below its edge."""


@dataclass(frozen=True, slots=True)
class LevelHistory:
    """Pile-ups remembered from earlier shoots, as (level, lower edge) per key."""

    levels: Mapping[LevelKey, tuple[tuple[float, float], ...]] = field(default_factory=dict)


def clip_evidence(measured: FrameMeasurement) -> ClipEvidence:
    """Take the evidence of clipping out of a measurement."""
    camera, mosaic = measured.facts.camera, measured.mosaic
    planes = []
    for plane in mosaic.planes:
        histogram, black_dn, total = plane.histogram, plane.black_dn, max(1, plane.pixels)
        # the highest DN with more than a hundred-thousandth of the plane at or above it
        few = plane.hot_count + max(3, round(plane.pixels * ABOVE_TAG_SHARE))
        top_dn = histogram.dn_with_above(few)
        near = histogram.at_or_above(black_dn + (1.0 - NEAR_TOP) * (top_dn - black_dn))
        edge_dn = top_dn if plane.pile_up is None else plane.pile_up.from_dn
        code_dn = float(code_step_at(code_steps_dn(histogram), np.array([edge_dn]))[0])
        next_dn, next_code = histogram.last_under(edge_dn), 0
        if next_dn is not None and edge_dn - next_dn >= COARSE_STEP_DN:
            next_code = int(histogram.counts[next_dn - histogram.first_dn])
        heap, beyond, leads_up = plane.pile_up, 0, 1.0
        if heap is not None:
            beyond_dn = heap.level_dn + max(BEYOND_SPREADS * heap.spread_dn, BEYOND_LEAST_DN)
            beyond = histogram.at_or_above(beyond_dn)
            under_dn = heap.from_dn - LEADS_UP * (heap.level_dn - black_dn)
            own = max(1, histogram.at_or_above(heap.from_dn))
            leads_up = histogram.at_or_above(under_dn) / own - 1.0
        planes.append(
            PlaneEvidence(
                name=plane.name,
                white_dn=plane.white_dn,
                pile_up=plane.pile_up,
                top_dn=top_dn,
                black_dn=black_dn,
                near_top=near / total,
                bends_from_dn=plane.bends_from_dn,
                clips_apart=plane.clips_apart,
                next_code=next_code / total,
                code_dn=code_dn,
                mode=None if plane.pile_up else top_mode(histogram, black_dn),
                crowded=crowded(plane, code_dn),
                just_under=just_under(plane, code_dn),
                top_half=top_half(plane, top_dn, code_dn),
                beyond=beyond / total,
                leads_up=leads_up,
                over_claim=histogram.at_or_above(plane.white_dn + 1.0) / total,
            )
        )
    return ClipEvidence(
        body=(camera.make or "", camera.model or "", camera.serial or ""),
        iso=measured.facts.exposure.iso or 0.0,
        bit_depth=mosaic.bit_depth,
        planes=tuple(planes),
        scaled=mosaic.layout is Layout.LINEAR,
        sensor=sensor_text(
            mosaic.layout, mosaic.width, mosaic.height, mosaic.planes, measured.facts.lens
        ),
    )


def sensor_text(
    layout: Layout,
    width: int,
    height: int,
    planes: Sequence[PlaneMeasurement],
    lens: LensFacts,
) -> str:
    """Tell sensors of one body apart: ``bayer 6000x4000 black 36``, black in quarter stops."""
    tags = [p.black_dn if p.black_tag_dn is None else p.black_tag_dn for p in planes]
    steps = round(BLACK_STEPS * math.log2(max(0.0, *tags, 0.0) + 1.0))
    return f"{layout.value} {width}x{height} black {steps}{module_text(lens)}"


def module_text(lens: LensFacts) -> str:
    """Tell apart the camera modules of a phone, often of one size and black: `` lens 4.25 mm``.

    Empty for larger sensors, before which lenses are changed and zoomed.
    """
    focal_mm, focal_35mm = lens.focal_mm, lens.focal_35mm
    if not focal_mm:
        return ""
    small = focal_35mm / focal_mm >= MODULE_CROP if focal_35mm else focal_mm < MODULE_MM
    return f" lens {focal_mm:g} mm" if small else ""


def with_lent_noise(
    evidence: ClipEvidence, measured: FrameMeasurement, noise: Sequence[NoiseEstimate]
) -> ClipEvidence:
    """Look again for pile-ups in the histograms kept, by noise that sisters measured."""
    planes = list(evidence.planes)
    for place, (plane, lent) in enumerate(zip(measured.mosaic.planes, noise, strict=True)):
        untold = planes[place].pile_up is None and plane.noise.floor_dn is None
        if untold and lent.floor_dn is not None:
            pile_up = find_pile_up(
                plane.histogram,
                plane.black_dn,
                plane.white_dn,
                evidence.bit_depth,
                NoiseModel(lent),
            )
            pile_up = sharp_or_loose(pile_up, planes[place].mode)
            planes[place] = replace(planes[place], pile_up=pile_up)
    return replace(evidence, planes=tuple(planes))


def settle_levels(
    evidence: Mapping[str, ClipEvidence], history: LevelHistory | None = None
) -> dict[str, tuple[Level, ...]]:
    """Settle the saturation of every plane of every frame.

    Parameters
    ----------
    evidence : mapping of frame id to ClipEvidence
    history : LevelHistory, optional

    Returns
    -------
    dict
        Frame id to one :class:`Level` a plane, in order.
    """
    sisters: dict[LevelKey, list[PileUp]] = defaultdict(list)
    reached: dict[LevelKey, float] = defaultdict(float)  # how far over black, by sensor
    led: dict[LevelKey, list[float]] = defaultdict(list)
    bends: dict[LevelKey, list[float]] = defaultdict(list)
    for frame in evidence.values():
        for plane in frame.planes:
            if plane.pile_up is not None and not plane.clips_apart:
                sisters[frame.key(plane.name)].append(plane.pile_up)
                if frame.has_sisters and plane.leads_up >= ALONE:
                    led[frame.key(plane.name)].append(plane.pile_up.level_dn)
        if frame.has_sisters:
            for plane in frame.planes:
                key = frame.reach_key(plane.name)
                reached[key] = max(reached[key], plane.reach_dn)
            bends[frame.key("")] += _bends_of(frame)
    agreed = {
        key: (_told_levels((heap.level_dn, heap.from_dn) for heap in heaps), len(heaps))
        for key, heaps in sisters.items()
    }
    usual_bends = {key: median(told) for key, told in bends.items() if told}
    remembered = (history or LevelHistory()).levels
    past = cache(lambda key: _told_levels(remembered.get(key, ())))
    settled = {}
    for frame_id, frame in evidence.items():
        own = [_settle_plane(frame, plane, agreed, past) for plane in frame.planes]
        # the response bends over where it does for a sensor at one ISO: the median
        bend = usual_bends.get(frame.key(""), median(_bends_of(frame) or [math.nan]))
        levels = []
        for plane, level in zip(frame.planes, own, strict=True):
            claimed = level.source is LevelSource.METADATA
            told = (_from_other_planes(plane, frame, own) if claimed else None) or level
            told = doubted(frame, plane, told, reached, led)
            bends_from_dn = None if math.isnan(bend) else plane.black_dn + bend
            levels.append(replace(told, bends_from_dn=bends_from_dn))
        settled[frame_id] = tuple(levels)
    return settled


def _bends_of(frame: ClipEvidence) -> list[float]:
    planes = [(plane.bends_from_dn, plane.black_dn) for plane in frame.planes]
    return [bend_dn - black_dn for bend_dn, black_dn in planes if bend_dn is not None]


def _settle_plane(
    frame: ClipEvidence,
    plane: PlaneEvidence,
    sisters: Mapping[LevelKey, tuple[tuple[_Edged, ...], int]],
    history: Callable[[LevelKey], tuple[_Edged, ...]],
) -> Level:
    """Settle by what the pile-ups of one key agree on, those of so many sisters and the past's.

    Two ways of reading a sensor out may clip apart at one ISO, and files hardly tell which is
    which: a pile-up that only this frame has is overruled and doubted, and so is one of two levels
    where the frame reaches neither and none of its other channels tells.
    """
    key, own = frame.key(plane.name), plane.pile_up
    shoot, seen = sisters.get(key, ((), 0)) if frame.has_sisters else ((), 0)
    odd = False
    if own is not None:
        far = all(abs(own.level_dn / level - 1) > OUTLIER_SHARE for level, _ in shoot)
        odd = far and seen > LEAST_SISTERS  # it is one of them itself
        if not odd:
            return Level(own.level_dn, own.from_dn, LevelSource.MEASURED)
    past = history(key) if frame.has_sisters else ()
    own_channels = [other.pile_up.level_dn for other in frame.planes if other.pile_up]
    for levels, source in ((shoot, LevelSource.SHOOT), (past, LevelSource.HISTORY)):
        # a level that the frame goes beyond is not its own: by a third of what parts two levels
        not_passed = [
            told
            for told in levels
            if plane.top_dn <= max(told[0] * (1 + OUTLIER_SHARE / 3), _upper_edge_dn(told))
        ]
        open_to = [
            told
            for told in not_passed
            if any(abs(told[0] / level - 1.0) <= OUTLIER_SHARE for level in own_channels)
        ] or not_passed
        if open_to:
            (lowest_dn, from_dn), highest_dn = open_to[0], open_to[-1][0]
            if not odd and len(open_to) == 1:
                return Level(lowest_dn, from_dn, source)
            ends = {lowest_dn, highest_dn} if own is None else {own.level_dn, lowest_dn}
            differ = remark(RemarkCode.LEVELS_DIFFER, low_dn=min(ends), high_dn=max(ends))
            near = odd or plane.top_dn >= (1.0 - NEAR_TOP) * from_dn
            return Level(lowest_dn, from_dn, source, (differ,), may_clip=near)
    if own is not None:  # beyond all that others tell
        return Level(own.level_dn, own.from_dn, LevelSource.MEASURED)
    if plane.top_dn <= plane.white_dn:
        return Level(plane.white_dn, plane.white_dn, LevelSource.METADATA)
    # the file's claim, raised to what the data reach: no clipping was measured
    top_dn = float(plane.top_dn)
    passed = remark(RemarkCode.CLAIM_PASSED, top_dn=top_dn, claimed_dn=plane.white_dn)
    return Level(top_dn, top_dn + 1.0, LevelSource.METADATA, (passed,))


def _told_levels(levels: Iterable[_Edged]) -> tuple[_Edged, ...]:
    """Return the levels that pile-ups gather about, the lowest first.

    Those that only one of them tells are left out where several tell another. What lies between
    two levels is none.
    """
    groups: list[list[_Edged]] = []
    for level in sorted(levels):
        if groups and level[0] <= (1.0 + OUTLIER_SHARE) * groups[-1][-1][0]:
            groups[-1].append(level)
        else:
            groups.append([level])
    several = [group for group in groups if len(group) > 1] or groups
    return tuple(middle for group in several if (middle := _middle(group)) is not None)


def _middle(levels: Iterable[_Edged]) -> _Edged | None:
    pairs = list(levels)
    if not pairs:
        return None
    return median(pair[0] for pair in pairs), median(pair[1] for pair in pairs)


def _upper_edge_dn(level: _Edged) -> float:
    """Return how far up pixels that clip lie, from the level and its lower edge."""
    return level[0] + max(0.0, TWICE * (level[0] - level[1]))


def _from_other_planes(
    plane: PlaneEvidence, frame: ClipEvidence, levels: Sequence[Level]
) -> Level | None:
    """Channels of one sensor clip close together: better than a claim that others disprove.

    A green takes what its twin knows. None where no other channel knows, or this one reaches
    further than they clip.
    """
    known = [
        (other.name, level)
        for other, level in zip(frame.planes, levels, strict=True)
        if level.source is not LevelSource.METADATA and other.name != plane.name
    ]
    found = [level for name, level in known if name[0] == plane.name[0]] or [
        level for _, level in known
    ]
    usable = _middle([(level.saturation_dn, level.blown_from_dn) for level in found])
    if usable is None or plane.top_dn > _upper_edge_dn(usable):
        return None
    sources = {level.source for level in found}
    own = next(
        source
        for source in (LevelSource.MEASURED, LevelSource.SHOOT, LevelSource.HISTORY)
        if source in sources
    )
    source = LevelSource.CHANNELS if own is LevelSource.MEASURED else own
    return Level(*usable, source, (remark(RemarkCode.LEVEL_OF_OTHERS),))
