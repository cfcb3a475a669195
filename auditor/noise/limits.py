"""Every number that noise is judged by."""

from __future__ import annotations

from auditor.model.limit import Limit

# Whether what is left is a sensor's noise

WHITE = Limit(
    0.94,
    "share of the coarser noise",
    "Fine noise under this share of that of twice the scale was smoothed away: noise reduction, "
    "interpolation, packing with loss; or no place is free of texture.",
)
WHITE_DARK = Limit(
    0.7,
    "share of the coarser noise",
    "Likewise for the darkest places alone, where noise reduction works most.",
)
NEIGHBOURS_ALIKE = Limit(
    0.02,
    "correlation",
    "Noise of neighbours of other colours, beside or below, that is more alike than that of those "
    "aslant: colours were mixed, or charge trails.",
)
NEIGHBOURS_SURE = Limit(4.5, "standard errors", "It is alike by so many.")
TAILS = Limit(
    0.08,
    "excess kurtosis",
    "Noise of light with so many large differences: small ones were shrunk (a soft knee: 0.072).",
)
TAILS_SURE = Limit(5.0, "standard errors", "They are too many by so many.")
TAILS_FROM = Limit(
    0.1, "share of the levels", "Only levels from here on are asked for such differences."
)
LINES_APART = Limit(
    0.1,
    "share of the signal",
    "Rows, or columns, that take turns and differ by more were exposed or amplified otherwise.",
)
CODES_GROW = Limit(
    0.1, "share of the blocks", "Where it rules in more, over levels where it does not, none tells."
)
APART_PIXELS = Limit(
    0.01,
    "share of the signal",
    "Pixels that stand out by more, at the same places again and again, are not of one kind.",
)
APART_SURE = Limit(6.0, "standard deviations", "They stand out from all places by so many.")
CODES_RULE = Limit(
    0.25,
    "share of the variance",
    "Where the distance of the codes makes more of the read noise, nothing is said of it.",
)
WHITE_BORDER = Limit(
    0.9,
    "share of the variance",
    "Likewise for the masked border, between the finest differences of its pixels and all of them.",
)
WHITE_BORDER_TOO = Limit(
    0.97,
    "share of the variance",
    "Likewise where the picture was smoothed: its border was as well.",
)
LEAST_LEVELS = Limit(6, "groups", "Fewer levels of interpolated data do not tell a gain.")

# Places by level

LEAST_BLOCKS = Limit(24, "blocks", "A group of like level holds so many.")
CUT_SHARE = Limit(
    0.02, "share of the group", "With more blocks that touch clipping or zero, a group is left out."
)
CALMEST = Limit(
    0.1, "share of a group", "Blocks, calmest first, that noise is first looked for in."
)
NEAR_TOP = Limit(0.93, "share of the range", "Levels above it may be clipped and are not used.")
CALM_SHARE = Limit(
    0.08,
    "share of a group",
    "A group of which fewer blocks are calm holds texture throughout: chance ones do not count.",
)
EVEN_SHARE = Limit(0.45, "share of a group", "A group with so many calm blocks holds no texture.")
EVEN_UNREST = Limit(1.3, "times the noise", "Unrest up to this is noise in such a group.")

# Gain

GAIN_ERROR = Limit(
    0.05, "relative standard error", "A gain that is less sure passes for no measurement."
)
BORDER_OFF = Limit(
    0.15,
    "share of the variance",
    "Where the levels let expect so much less noise without light than the masked border has, the "
    "picture has another black, and the border tells nothing of the gain.",
)
BORDER_SURE = Limit(4.0, "standard errors", "It is less by so many.")
GAIN_SPAN = Limit(
    8.0,
    "noise sigmas of the dark end",
    "The levels that tell a gain span so much: without light there is nothing to see of it.",
)
GAIN_GROUPS = Limit(
    0.25, "share of the groups", "So many levels agree on a gain; one calm corner does not tell it."
)
TWINS_APART = Limit(
    0.15, "relative", "Two greens that differ by more have measured texture, not gain."
)
COLOURS_APART = Limit(
    0.4,
    "relative",
    "A colour whose gain is so far over the median of all has measured texture; some bodies "
    "multiply red and blue by up to a third (common practice).",
)
DARK_END = Limit(
    0.25,
    "share of the brightest level",
    "A gain that no colour tells from levels down to this is believed only where other frames bear "
    "it out: over bright tones alone a bent response looks straight.",
)
LIGHT_BEGINS = Limit(
    0.02,
    "share of the levels",
    "Where no noise at all is expected so far over black, the darker levels were smoothed.",
)
UNEVEN_LEAST = Limit(
    1e-5,
    "squared relative response",
    "Pixels that seem more even than this (0.3 %) are not: the response bends near the top.",
)
STRAIGHT = Limit(
    0.5, "share of the levels", "Up to here the response of such a sensor is straight."
)
CURVED_SURE = Limit(
    4.0,
    "standard errors",
    "Noise that is so far off any straight response is not that of light alone.",
)
CURVED_GAIN = Limit(
    0.05, "relative", "And with what it is off by, the gain would be so far another."
)
CURVED_ABOVE = Limit(
    3.5, "standard errors", "Levels with so much more noise hold texture: they are not asked."
)
CURVED_BELOW = Limit(5.0, "standard errors", "Likewise with so much less.")
EVEN_BLOCKS = Limit(60, "blocks", "A level of so many blocks can be seen to be even.")
EVEN_APART = Limit(
    0.14,
    "share of the variance",
    "The noise of an even level is the same in its calmer half as in the other, and across as "
    "aslant.",
)
EVEN_LEVELS = Limit(3, "levels", "So many even levels, those that are furthest off, are asked.")
EVEN_LEVELS_OFF = Limit(
    0.18,
    "share of the variance",
    "Even levels with so much more noise than the gain lets expect: the response is bent.",
)
UNEVEN_LIMIT = Limit(2e-4, "squared relative response", "A larger unevenness is texture.")

# Corners and rows that the camera brightened

CORNERS_LEAST = Limit(
    0.12,
    "share of the variance",
    "Noise that grows by so much from the centre to the corners, at one level, was multiplied.",
)
CORNERS_SURE = Limit(5.0, "standard errors", "It grows by so many.")
CORNERS_SIDES = Limit(
    0.5, "share of the growth", "On the left and on the right alike: texture lies where it lies."
)

ROWS_UNLIKE = Limit(
    0.05,
    "share of the variance",
    "Rows whose noise at one level differs by more were multiplied, each by its own factor.",
)
ROWS_SURE = Limit(5.0, "standard errors", "They differ beyond it by so many.")

# Read noise

READ_ERROR = Limit(
    0.07, "relative standard error", "A read noise that is less sure passes for no measurement."
)
SIDES_APART = Limit(
    0.3,
    "share of the variance",
    "Where the two sides of a picture tell read noises further apart, their black differs.",
)
SIDES_SURE = Limit(4.0, "standard errors", "They lie apart by so many.")
LEAST_VARIANCE_DN2 = Limit(
    0.24,
    "DN²",
    "Below this the variance is that of rounding rather than of the sensor; EMVA 1288 then states "
    "it as an upper bound (0.49 DN).",
)
RULED_BY_READ = Limit(
    0.3,
    "share of the read variance",
    "Shot noise at the dark end is no more than this, where read noise is told without a border: "
    "else a small error of the black level turns into one of the read noise.",
)

UNDER_BLACK = Limit(
    0.1,
    "share of the read variance",
    "Where places lie so far under black that their missing shot noise would be more than this, "
    "the black level is off and tells no read noise.",
)

# Where the response bends before it clips

BEND_LEAST_BLOCKS = Limit(12, "blocks", "A window of levels holds so many calm ones.")
BEND_CALM = Limit(1.3, "times the noise", "A place with more unrest is no calm one.")
BEND_FALL = Limit(
    0.6, "share of the noise of light", "Noise that has fallen so far under light's was bent over."
)
BEND_SURE = Limit(4.0, "standard errors", "It has fallen by so many.")
BEND_WINDOWS = Limit(3, "windows", "So many, the topmost that tell, have fallen.")
BEND_BEGINS = Limit(
    0.9, "share of the noise of light", "The response is straight up to the last level with more."
)

ISO_OFF_STOPS = Limit(
    0.6, "stops", "A gain so far off that of the body's other ISOs is that of another ISO."
)
BASE_ISO = Limit(100.0, "ISO", "Under it an ISO is extended (common practice).")
ISO_OFF_MOST_STOPS = Limit(
    2.5, "stops", "A gain further off than this is of no ISO: modes leave out two stops at most."
)
BASELINE_OFF_STOPS = Limit(
    0.02,
    "stops",
    "Baseline exposures tell an ISO where they differ by thirds of a stop as near as this, as "
    "ISO dials do, and those of one ISO do not.",
)

# From other frames of the shoot

LENDERS_APART = Limit(
    0.15, "relative", "Frames agree on gain or read noise this near to their median."
)
LENDERS_AGREE = Limit(0.5, "share of the frames", "More than so many agree, or nothing is taken.")
GAINS_APART = Limit(
    0.25,
    "relative",
    "A frame's own gain so far off what the others of its body agree on is none.",
)
GAIN_LENDERS = Limit(3, "frames", "So many must agree to be believed before a frame's own gain.")
SMOOTHED_UNDER = Limit(
    0.85,
    "share of the read noise",
    "A frame whose darkest places have less noise than this was smoothed: others lend it none.",
)
ISOS_APART = Limit(
    0.3,
    "relative",
    "A gain that one frame alone tells lies this near to what the body's other ISOs let expect.",
)

# Dark frames

DARK_FRAME_BLOCKED = Limit(
    0.995,
    "share of the frame",
    "With so much under the noise floor next to no light came in: a cap, or far too short a time.",
)
DARK_ZERO_SHARE = Limit(
    0.45,
    "share of the plane",
    "Likewise at or under black where no floor is known: read noise alone puts half of them there.",
)
