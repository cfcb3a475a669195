"""Every rule of a finding, one line each, and running them over a judged shoot.

Legend, ``explain`` and the docs are made from :data:`KINDS`.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

from auditor.black.findings import (
    BLACK_DISAGREES,
    find_black_disagrees,
)
from auditor.clipping.findings import (
    BLOWN_AREA,
    BLOWN_CHANNEL,
    BLOWN_POINTS,
    HEADROOM_LEFT,
    LINEAR_LIMIT,
    WHITE_LEVEL_TAG,
    find_blown_area,
    find_blown_channel,
    find_blown_points,
    find_headroom_left,
    find_linear_limit,
    find_white_level_tag,
)
from auditor.defects.findings import (
    DAMAGED_DATA,
    HOT_PIXELS,
    MAY_BE_DAMAGED,
    find_damaged_data,
    find_hot_pixels,
    find_may_be_damaged,
)
from auditor.findings.base import FrameRule, FrameView, ShootRule, ShootView
from auditor.findings.of_files import (
    COPIES_DIFFER,
    COPY_ELSEWHERE,
    EXPOSURE_UNKNOWN,
    find_copies_differ,
    find_copy_elsewhere,
    find_exposure_unknown,
)
from auditor.group.pair_findings import (
    FILTER_CAST,
    FILTER_OFF_MARKING,
    LIGHT_CHANGED,
    PLACEMENT_OFF,
    find_filter_cast,
    find_filter_off_marking,
    find_light_changed,
    find_placement_off,
)
from auditor.group.set_findings import (
    BRACKET_GAP,
    BRACKET_LONGER,
    PANORAMA_UNEVEN,
    SKY_BRIGHTER,
    TRIPOD_MOVED,
    find_bracket_gap,
    find_bracket_longer,
    find_panorama_uneven,
    find_sky_brighter,
    find_tripod_moved,
)
from auditor.model.audit import FrameResult
from auditor.model.findings import Finding, FindingKind, Severity
from auditor.model.settings import Settings
from auditor.noise.findings import (
    BLOCKED_AREA,
    DARK_FRAME,
    NOISE_UNKNOWN,
    RANGE_TOO_LONG,
    find_blocked_area,
    find_dark_frame,
    find_noise_unknown,
    find_range_too_long,
)
from auditor.preview.findings import (
    PREVIEW_EARLY,
    PREVIEW_HIDES,
    find_preview_early,
    find_preview_hides,
)

if TYPE_CHECKING:
    # Only named here: explaining a finding must not wait for the array libraries.
    from auditor.model.grouping import Grouping
    from auditor.model.measurement import FrameMeasurement

FRAME_RULES: tuple[tuple[FindingKind, FrameRule], ...] = (
    (DAMAGED_DATA, find_damaged_data),
    (MAY_BE_DAMAGED, find_may_be_damaged),
    (BLOWN_AREA, find_blown_area),
    (BLOCKED_AREA, find_blocked_area),
    (RANGE_TOO_LONG, find_range_too_long),
    (BLOWN_CHANNEL, find_blown_channel),
    (PREVIEW_HIDES, find_preview_hides),
    (HEADROOM_LEFT, find_headroom_left),
    (PREVIEW_EARLY, find_preview_early),
    (BLOWN_POINTS, find_blown_points),
    (LINEAR_LIMIT, find_linear_limit),
    (HOT_PIXELS, find_hot_pixels),
    (DARK_FRAME, find_dark_frame),
    (BLACK_DISAGREES, find_black_disagrees),
    (NOISE_UNKNOWN, find_noise_unknown),
    (EXPOSURE_UNKNOWN, find_exposure_unknown),
    (COPY_ELSEWHERE, find_copy_elsewhere),
    (COPIES_DIFFER, find_copies_differ),
)
"""Rules on one frame, in the order in which findings are told."""

SHOOT_RULES: tuple[tuple[FindingKind, ShootRule], ...] = (
    (TRIPOD_MOVED, find_tripod_moved),
    (BRACKET_GAP, find_bracket_gap),
    (PANORAMA_UNEVEN, find_panorama_uneven),
    (PLACEMENT_OFF, find_placement_off),
    (FILTER_OFF_MARKING, find_filter_off_marking),
    (FILTER_CAST, find_filter_cast),
    (LIGHT_CHANGED, find_light_changed),
    (BRACKET_LONGER, find_bracket_longer),
    (SKY_BRIGHTER, find_sky_brighter),
    (WHITE_LEVEL_TAG, find_white_level_tag),
)
"""Rules on pairs and groups, each telling its finding at the frame that it concerns."""

KINDS: dict[str, FindingKind] = {kind.code: kind for kind, _ in (*FRAME_RULES, *SHOOT_RULES)}
"""Every kind of finding by its code."""

ORDER = {Severity.LOST: 0, Severity.RISK: 1, Severity.NOTE: 2}
"""What cannot be had back is told first."""


def frame_view(
    result: FrameResult, measured: FrameMeasurement | None, settings: Settings
) -> FrameView:
    """Bundle what the rules on one frame may look at."""
    if measured is None:
        return FrameView(result, settings)
    masked = {
        plane.name: (plane.black_tag_dn, plane.black_dn)
        for plane in measured.mosaic.planes
        if plane.black_source == "masked border" and plane.black_tag_dn is not None
    }
    return FrameView(result, settings, measured.mosaic.damage, masked)


def with_frame_findings(view: FrameView) -> FrameResult:
    """Return the frame with the findings of all rules on one frame."""
    found = tuple(finding for _, rule in FRAME_RULES for finding in rule(view))
    return replace(view.result, findings=_ordered(found))


def with_shoot_findings(
    results: Mapping[str, FrameResult], grouping: Grouping, settings: Settings
) -> dict[str, FrameResult]:
    """Return all frames with the findings of the rules on pairs and groups added.

    The darker frames of a bracket are not told that more light would have fitted.
    """
    meant = meant_dark(results, grouping)
    results = {name: _without_spare(one) if name in meant else one for name, one in results.items()}
    view = ShootView(results, grouping, settings)
    found: dict[str, list[Finding]] = defaultdict(list)
    for _, rule in SHOOT_RULES:
        for frame_id, finding in rule(view):
            found[frame_id].append(finding)
    return {
        frame_id: replace(result, findings=_ordered((*result.findings, *found[frame_id])))
        if frame_id in found
        else result
        for frame_id, result in results.items()
    }


def meant_dark(results: Mapping[str, FrameResult], grouping: Grouping) -> frozenset[str]:
    """Return the frames that a bracket holds brighter too: what light they lack was meant."""
    return frozenset(
        frame
        for bracket in grouping.brackets
        for frame in bracket.frames
        if _spare(results[frame]) > min(_spare(results[other]) for other in bracket.frames)
    )


def _spare(result: FrameResult) -> float:
    return result.headroom_stops or 0.0


def _without_spare(result: FrameResult) -> FrameResult:
    kept = tuple(one for one in result.findings if one.code != HEADROOM_LEFT.code)
    return replace(result, findings=kept)


def _ordered(findings: tuple[Finding, ...]) -> tuple[Finding, ...]:
    return tuple(sorted(findings, key=lambda finding: ORDER[finding.severity]))
