"""What is worth knowing beside a figure: a code and its figures. Words are put to it last."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from auditor.model.findings import Figure, Figures


class RemarkCode(StrEnum):
    """Every remark; :mod:`auditor.words.remarks` says each. Its figures stand beside it."""

    # on a set-up
    OTHER_TAG = "other-orientation-tag"
    """frame"""
    CLOCK_SET = "clock-was-set"
    """frame"""
    SHIFT_UNTOLD = "shift-untold"
    """frame"""
    KNOCKED = "knocked"
    """frame; moved_px"""

    # on a pair
    TILES_AGREE = "tiles-agree"
    """count; share; spread_stops"""
    LIGHT_UNTOLD = "light-untold"
    LIGHT_BY_PACE = "light-by-pace"
    """drift_stops from the first to the second; long_first"""
    LIGHT_BETWEEN = "light-between"
    """likewise; frames before and after"""
    APART = "apart"
    """long and short, the times on the dial; apart_s, absent where not every file tells its time;
    evenly"""
    PART_LOST = "part-lost"
    """of: long or short; lost: blown or blocked; share"""
    MOVED = "moved"
    """moved_px"""
    BELOW_GRAD = "below-grad"
    FLOOR_UNKNOWN = "floor-unknown"
    NO_MATCH = "no-match"
    """pace_stops_per_min"""
    MATCH_ALLOWS = "match-allows"
    """pace_stops_per_min; steady_s"""

    # on a graduated filter
    MORE_LIGHT = "more-light"
    """stops"""
    LESS_LIGHT = "less-light"
    """stops"""
    SIDES_DIFFER = "sides-differ"
    """stops"""

    # on a sky
    NO_LINE = "no-line"
    GROUND_BLOWN = "ground-blown"
    SKY_BLOWN = "sky-blown"
    GROUND_UNLIT = "ground-unlit"

    # on a panorama
    EXPOSURE_CHANGED = "exposure-changed"
    """stops"""
    WHITE_BALANCE_CHANGED = "white-balance-changed"
    FRAME_BLOWN = "frame-blown"
    """frame; share"""
    LITTLE_OVERLAP = "little-overlap"
    """share"""

    # on settings for next time
    HEADROOM_LIMITS = "headroom-limits"
    """frame; time_s; headroom_stops; frames; panorama"""
    GLINTS_CLIP = "glints-clip"
    """frame; time_s; share; patch"""
    ALL_LOST = "all-lost"
    """frame; time_s"""
    RETAKEN = "retaken"
    """frame; time_s"""
    LOWER_ISO = "lower-iso"
    """iso; before"""
    HIGHER_ISO = "higher-iso"
    """iso"""
    WIDER = "wider"
    """f_number; before"""
    STILL_AIR = "still-air"
    """time_s; before_s"""
    DRIFT_ALLOWED = "drift-allowed"
    """drift_stops_per_min"""
    LONG_BEHIND = "long-behind"
    """filter; time_s, absent where the light falls too fast for any. What serves instead: f_number
    or other, a filter of one's own, with other_s; neither where only a weaker filter would"""


@dataclass(frozen=True, slots=True)
class Remark(Figures):
    """One remark.

    Parameters
    ----------
    code : RemarkCode
        What it is; the figures of each stand beside it.
    figures : mapping of str to Figure
        All that its sentence is made from.
    """

    code: RemarkCode
    figures: Mapping[str, Figure] = field(default_factory=dict)


def remark(code: RemarkCode, **figures: Figure) -> Remark:
    """Make a remark of its figures."""
    return Remark(code, figures)
