"""What brackets, panoramas, skies and the tripod have to say."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import pairwise

from auditor.findings.base import ShootView, finding
from auditor.group.limits import (
    BRACKET_GAP_LIMIT_SHARE,
    PANORAMA_UNEVEN_LIMIT_STOPS,
)
from auditor.group.setups import least_moved_px
from auditor.model.findings import Figure, Finding, FindingCode, Severity
from auditor.model.remark import RemarkCode


def find_bracket_gap(view: ShootView) -> Iterator[tuple[str, Finding]]:
    """Tell of brackets that leave out more than the limit, at their first frame."""
    for bracket in view.grouping.brackets:
        lost = 1.0 - bracket.covered_fraction
        if lost >= BRACKET_GAP_LIMIT_SHARE:
            yield (
                bracket.frames[0],
                finding(
                    FindingCode.BRACKET_GAP,
                    Severity.RISK,
                    lost,
                    limit=BRACKET_GAP_LIMIT_SHARE,
                    unit="share of the scene",
                    frames=float(len(bracket.frames)),
                    bright=bracket.lost_bright_fraction > 0,
                    dark=bracket.lost_dark_fraction > 0,
                ),
            )


def find_bracket_longer(view: ShootView) -> Iterator[tuple[str, Finding]]:
    """Tell it once a bracket, at the first frame needed."""
    for bracket in view.grouping.brackets:
        if bracket.not_needed and bracket.needed:
            yield (
                bracket.needed[0],
                finding(
                    FindingCode.BRACKET_LONGER,
                    Severity.NOTE,
                    float(len(bracket.not_needed)),
                    unit="frames",
                    frames=float(len(bracket.frames)),
                    needed=bracket.needed,
                ),
            )


def find_panorama_uneven(view: ShootView) -> Iterator[tuple[str, Finding]]:
    """Tell of panoramas with a spread or a note, at their first frame; a blown frame tells it."""
    for run in view.grouping.panoramas:
        blown = [one for one in run.remarks if one.code is RemarkCode.FRAME_BLOWN]
        uneven = len(blown) < len(run.remarks)
        told: dict[str, Figure] = {one.code: one.number("share") or True for one in run.remarks}
        if blown:
            told[RemarkCode.FRAME_BLOWN] = tuple(one.name("frame") for one in blown)
            told["shares"] = tuple(str(one.number("share")) for one in blown)
        if run.exposure_spread_stops >= PANORAMA_UNEVEN_LIMIT_STOPS or uneven:
            yield (
                run.frames[0],
                Finding(
                    code=FindingCode.PANORAMA_UNEVEN,
                    severity=Severity.RISK,
                    value=run.exposure_spread_stops,
                    limit=PANORAMA_UNEVEN_LIMIT_STOPS,
                    unit="stops",
                    figures={"frames": float(len(run.frames)), **told},
                ),
            )


def find_sky_brighter(view: ShootView) -> Iterator[tuple[str, Finding]]:
    """Tell of frames that lost an end and whose sky a common strength would balance."""
    for sky in view.grouping.skies:
        over, strength = sky.sky_over_ground_stops, sky.common_strength_stops
        verdict = view.results[sky.frame].verdict
        lost = verdict.lost_highlights or verdict.lost_shadows  # none holds the sun itself
        if over is not None and strength is not None and lost:
            yield (
                sky.frame,
                finding(
                    FindingCode.SKY_BRIGHTER,
                    Severity.NOTE,
                    over,
                    unit="stops",
                    strength_stops=strength,
                    at_least=sky.at_least,
                ),
            )


def find_tripod_moved(view: ShootView) -> Iterator[tuple[str, Finding]]:
    """Tell of each step between neighbouring frames above the limit."""
    steps = (step for setup in view.grouping.setups for step in pairwise(setup.placed()))
    for (_, before, error_before), (frame, after, error_after) in steps:
        right, down = after[0] - before[0], after[1] - before[1]
        error_px = math.hypot(error_before, error_after)
        limit, step = least_moved_px(error_px), math.hypot(right, down)
        if step >= limit:
            yield (
                frame,
                finding(
                    FindingCode.TRIPOD_MOVED,
                    Severity.RISK,
                    step,
                    limit=limit,
                    unit="pixels",
                    right_px=right,
                    down_px=down,
                    error_px=error_px,
                ),
            )
