"""Run every rule over a judged shoot."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import replace

from auditor.group.grouping import Grouping
from auditor.judge.findings import frame_rules, shoot_rules, spare_light
from auditor.judge.findings.base import FrameView, ShootView
from auditor.model.audit import FrameResult
from auditor.model.findings import Finding, Severity
from auditor.model.measurement import FrameMeasurement
from auditor.model.settings import Settings

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
    found = tuple(finding for rule in frame_rules() for finding in rule(view))
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
    for rule in shoot_rules():
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
    return result.spare_stops or 0.0


def _without_spare(result: FrameResult) -> FrameResult:
    kept = tuple(one for one in result.findings if one.code != spare_light.KIND.code)
    return replace(result, findings=kept)


def _ordered(findings: tuple[Finding, ...]) -> tuple[Finding, ...]:
    return tuple(sorted(findings, key=lambda finding: ORDER[finding.severity]))
