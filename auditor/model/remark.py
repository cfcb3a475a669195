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
    DENSEST_BELOW = "densest-below"
    """stops"""
    GRAD_BY_WATER = "grad-by-water"

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

    # on a frame
    RANGE_OPEN = "range-open"
    """channels, whose range is open"""
    ISO_OF_GAIN = "iso-of-gain"
    """named, as the file has it; iso"""
    ISO_OF_BASELINE = "iso-of-baseline-exposure"
    """named, as the file has it; iso"""
    NO_PREVIEW = "no-preview"
    PREVIEW_DAMAGED = "preview-damaged"
    PREVIEW_UNKNOWN = "preview-unknown"
    """damaged, or of an unknown kind"""
    FROM_DECODER = "from-decoder"
    """facts, by name"""
    READ_BY_LIBRAW = "read-by-libraw"
    """reason, as the reading of the tags ended"""
    TAGS_UNFIT = "tags-unfit"
    STACKED_LAYERS = "stacked-layers"
    ODD_ASPECT = "odd-aspect"
    """aspect, width over height"""
    COLOUR_NAMED_TWICE = "colour-named-twice"
    PROXY = "proxy"
    """width and height of the original"""
    CURVE_STRAIGHTENED = "curve-straightened"
    """black_dn; white_dn"""
    BLACK_MEAN_USED = "black-mean-used"
    BLACK_LIST_UNFIT = "black-list-unfit"
    BLACK_TAG_UNFIT = "black-tag-unfit"
    WHITE_TAG_LOW = "white-tag-low"
    """claimed_dn; decoder_dn"""
    MASKED_INSIDE = "masked-inside"
    MASKED_OUTSIDE = "masked-outside"
    MARGIN_UNUSED = "margin-unused"
    """margin"""

    # on a channel
    BORDER_FAR_OFF = "border-far-off"
    """offset_dn"""
    CLAIM_PASSED = "claim-passed"
    """top_dn; claimed_dn"""
    LEVEL_OF_OTHERS = "level-of-others"
    MAY_BE_CLIPPED = "may-be-clipped"
    CLIPS_APART = "clips-apart"
    COARSE_TOP = "coarse-top"
    """step_dn, share"""
    CROWDED_TOP = "crowded-top"
    FILLED_IN = "filled-in"
    LEVELS_DIFFER = "levels-differ"
    """low_dn; high_dn"""
    BENDS = "bends"
    """from_dn"""
    UPPER_BOUND = "upper-bound"
    NO_FLOOR = "no-floor"
    """why are those that follow"""
    DARK_END_OPEN = "dark-end-open"
    MEDIAN_OPEN = "median-open"

    # on its noise
    TOO_SMALL = "too-small"
    COARSE_CODES = "coarse-codes"
    COARSE_DARK = "coarse-dark"
    LINES_TAKE_TURNS = "lines-take-turns"
    PIXELS_APART = "pixels-apart"
    CORNERS_BRIGHTENED = "corners-brightened"
    """growth of the variance from the centre to the corners, as a share"""
    ALL_CLIPPED = "all-clipped"
    FEW_LEVELS = "few-levels"
    SMOOTHED = "smoothed"
    NOT_STRAIGHT = "not-straight"
    BRIGHT_ALONE = "bright-alone"
    NO_READ_NOISE = "no-read-noise"
    FINE_READ_NOISE = "fine-read-noise"
    """bound_dn"""
    ONE_SISTER = "one-sister"
    SISTERS_DISAGREE = "sisters-disagree"
    SISTERS_TELL_ANOTHER = "sisters-tell-another"
    CALMER_THAN_SISTERS = "calmer-than-sisters"

    # on a preview
    PREVIEW_CLIPS = "preview-clips"
    """share; stops before the sensor by channel: R, G, B"""
    PREVIEW_LEVEL_UNSURE = "preview-level-unsure"
    """share"""
    PREVIEW_UNTOLD = "preview-untold"
    """share"""
    BARS_LEFT_OUT = "bars-left-out"
    OTHER_SECTION = "other-section"
    NOT_LAID_OVER = "not-laid-over"
    CORNERS_LIFTED = "corners-lifted"
    GREY_PREVIEW = "grey-preview"
    COUNTED_SMALL = "counted-small"
    """width and height; counted_width and counted_height"""

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
    """iso; before; stops between them"""
    HIGHER_ISO = "higher-iso"
    """iso; bulb_s at the ISO before, where that is no wait"""
    WIDER = "wider"
    """f_number; before"""
    STILL_AIR = "still-air"
    """time_s; before_s"""
    STARS_TRAIL = "stars-trail"
    """points_s, for which stars stay points; focal_mm on 24 x 36 mm"""
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


class Doubt(StrEnum):
    """Why a filter's figure may be off; what ``value`` is stands beside each."""

    SKY_HELD_MORE = "sky held back more"
    """Stops by which the sky was held back more than the ground."""
    SKY_HELD_LESS = "sky held back less"
    """Stops by which the sky was held back less than the ground."""
    SKY_ALONE = "sky alone"
    WATER = "moving water"
    CORNERS = "corners held back more"
    """Stops in the corners beyond the middle; negative where the unfiltered frame has dark ones."""
    SCATTERED = "scattered light"
    """Stops by which it lifted the median tone."""
    NO_APERTURE = "no aperture told"
    UNEVEN = "uneven"
    """Stops by which parts of the picture disagree."""
    BY_TONE = "bright and dark ground unlike"
    """Stops by which bright and dark ground side by side disagree; no cast is told then."""
    ONE_SIDE = "one side only"
    """Stops by which the colours of the light may have changed meanwhile, still in the cast."""
    COLOURS_UNEVEN = "colours uneven"
    """Stops by which parts of the picture disagree about the cast, which is not told then."""
    GRAD_SHORT_ONLY = "graduated filter on the short frame only"
    LIGHT_JUMPS = "the light jumped"
    LIKE_ANOTHER = "like another filter"
    """Stops by which another pair, or a known filter, with the same cast measured more or less."""
    DAYLIGHT_CAST = "cast of daylight"
    """Stops by which blue was held back less than green, as where the sun went in; or more."""
    FAST_SHUTTER = "a fast shutter"
    """Stops by which it may be off."""
    EXPOSURES_SCATTER = "exposures scatter"
    """Stops by which repeated unfiltered frames of one setting scatter."""
    WEAK = "weak"
    CLOUD = "may be a cloud"
    NO_WHOLE_STOPS = "no whole stops"
    """Stops by which the figure leaves the nearest whole one."""
    POLARISER = "may be a polariser"
    """Stops by which the colours disagree over the picture."""
    SHORT_FILTERED = "short frame perhaps filtered"
    """Stops by which its scene is darker than a clear sky makes it; 0 where nothing tells."""
    OTHER_APERTURE = "another aperture"
    """Stops of light between the two apertures."""
    COUNTED = "time counted by hand"
    """Stops by which an exposure counted in whole seconds may be off."""
    EXTENDED_ISO = "an extended ISO"
    """Stops between the two ISOs."""
    ODD_GRAD = "graduated filter of no whole stops"
    """Stops by which it leaves the nearest whole one."""
    COLOURED_GRAD = "graduated filter of a colour"
    """Stops by which the parts of the picture disagree about the cast."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PairDoubt:
    """One doubt.

    Parameters
    ----------
    code : Doubt
        What it is.
    value : float
        In stops; 0 where the code has no figure.
    """

    code: Doubt
    value: float = 0.0
