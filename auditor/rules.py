"""Every rule of a finding, one line each, and running them over a judged shoot."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from auditor.advise.isos import find_iso_costs
from auditor.black.findings import find_black_disagrees
from auditor.clipping.findings import (
    find_blown_area,
    find_blown_channel,
    find_blown_points,
    find_headroom_left,
    find_linear_limit,
    find_may_be_clipped,
    find_white_level_tag,
)
from auditor.defects.findings import (
    find_damaged_data,
    find_hot_pixels,
    find_may_be_damaged,
)
from auditor.findings.base import (
    FrameRule,
    FrameView,
    ShootRule,
    ShootView,
    find_copies_differ,
    find_copy_elsewhere,
    find_exposure_unknown,
)
from auditor.findings.extension import finding_extensions
from auditor.group.pair_findings import (
    find_filter_cast,
    find_filter_off_marking,
    find_light_changed,
    find_placement_off,
)
from auditor.group.set_findings import (
    find_bracket_gap,
    find_bracket_longer,
    find_panorama_uneven,
    find_sky_brighter,
    find_tripod_moved,
)
from auditor.model.audit import FrameResult
from auditor.model.codes import BlackSource
from auditor.model.findings import Finding, FindingCode, Severity
from auditor.model.settings import Settings
from auditor.noise.findings import (
    find_blocked_area,
    find_dark_frame,
    find_noise_unknown,
    find_range_too_long,
)
from auditor.preview.findings import (
    find_preview_early,
    find_preview_hides,
)

if TYPE_CHECKING:
    # Only named here: explaining a finding must not wait for the array libraries.
    from auditor.model.advice import IsoFigures
    from auditor.model.grouping import Grouping
    from auditor.model.measurement import FrameMeasurement

FRAME_RULES: tuple[FrameRule, ...] = (
    find_damaged_data,
    find_may_be_damaged,
    find_blown_area,
    find_blocked_area,
    find_range_too_long,
    find_blown_channel,
    find_may_be_clipped,
    find_preview_hides,
    find_headroom_left,
    find_preview_early,
    find_blown_points,
    find_linear_limit,
    find_hot_pixels,
    find_dark_frame,
    find_black_disagrees,
    find_noise_unknown,
    find_exposure_unknown,
    find_copy_elsewhere,
    find_copies_differ,
)
"""Rules on one frame, in the order in which findings are told."""

SHOOT_RULES: tuple[ShootRule, ...] = (
    find_tripod_moved,
    find_bracket_gap,
    find_panorama_uneven,
    find_placement_off,
    find_filter_off_marking,
    find_filter_cast,
    find_light_changed,
    find_bracket_longer,
    find_sky_brighter,
    find_white_level_tag,
    find_iso_costs,
)
"""Rules on pairs and groups, each telling its finding at the frame that it concerns."""

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
        if plane.black_source != BlackSource.METADATA and plane.black_tag_dn is not None
    }
    source = next(
        (plane.black_source for plane in measured.mosaic.planes if plane.name in masked),
        BlackSource.METADATA,
    )
    return FrameView(result, settings, measured.mosaic.damage, masked, source)


def with_frame_findings(view: FrameView) -> FrameResult:
    """Return the frame with the findings of all rules on one frame."""
    found = tuple(finding for rule in FRAME_RULES for finding in rule(view))
    found += tuple(one for extension in finding_extensions() for one in extension.found(view))
    return replace(view.result, findings=_ordered(found))


def with_shoot_findings(
    results: Mapping[str, FrameResult],
    grouping: Grouping,
    settings: Settings,
    isos: Sequence[IsoFigures] = (),
) -> dict[str, FrameResult]:
    """Return all frames with the findings of the rules on pairs and groups added.

    The darker frames of a bracket are not told that more light would have fitted.
    """
    judged = dict(results)
    for name in meant_dark(results, grouping):
        kept = (one for one in judged[name].findings if one.code != FindingCode.HEADROOM_LEFT)
        judged[name] = replace(judged[name], findings=tuple(kept))
    view = ShootView(judged, grouping, settings, isos)
    found: dict[str, list[Finding]] = defaultdict(list)
    for rule in SHOOT_RULES:
        for frame_id, finding in rule(view):
            found[frame_id].append(finding)
    return {
        frame_id: replace(result, findings=_ordered((*result.findings, *found[frame_id])))
        if frame_id in found
        else result
        for frame_id, result in judged.items()
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


def _ordered(findings: tuple[Finding, ...]) -> tuple[Finding, ...]:
    return tuple(sorted(findings, key=lambda finding: ORDER[finding.severity]))
