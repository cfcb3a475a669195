"""All findings: one file each, and one line here. Legend, ``explain`` and docs are made from it."""

from __future__ import annotations

from types import ModuleType

from auditor.judge.findings import (
    black_disagrees,
    blocked_area,
    blown_area,
    blown_channel,
    blown_points,
    bracket_gap,
    bracket_spare,
    copy_elsewhere,
    damaged_data,
    dark_frame,
    exposure_unknown,
    filter_cast,
    filter_off_marking,
    hot_pixels,
    light_moved,
    linear_limit,
    noise_unknown,
    placement_off,
    preview_early,
    preview_hides,
    range_too_long,
    run_uneven,
    sky_over_ground,
    spare_light,
    tripod_moved,
    white_level_tag,
)
from auditor.judge.findings.base import FrameRule, ShootRule
from auditor.model.findings import FindingKind

FRAME_RULES: tuple[ModuleType, ...] = (
    damaged_data,
    blown_area,
    blocked_area,
    range_too_long,
    blown_channel,
    preview_hides,
    spare_light,
    preview_early,
    blown_points,
    linear_limit,
    hot_pixels,
    dark_frame,
    black_disagrees,
    noise_unknown,
    exposure_unknown,
    copy_elsewhere,
)
"""Rules on one frame, in the order in which findings are told."""

SHOOT_RULES: tuple[ModuleType, ...] = (
    tripod_moved,
    bracket_gap,
    run_uneven,
    placement_off,
    filter_off_marking,
    filter_cast,
    light_moved,
    bracket_spare,
    sky_over_ground,
    white_level_tag,
)
"""Rules on pairs and groups, each telling its finding at the frame that it concerns."""

KINDS: dict[str, FindingKind] = {rule.KIND.code: rule.KIND for rule in (*FRAME_RULES, *SHOOT_RULES)}
"""Every kind of finding by its code."""


def frame_rules() -> tuple[FrameRule, ...]:
    """Return the functions of the rules on one frame."""
    return tuple(rule.find for rule in FRAME_RULES)


def shoot_rules() -> tuple[ShootRule, ...]:
    """Return the functions of the rules on pairs and groups."""
    return tuple(rule.find for rule in SHOOT_RULES)
