"""Every number that advice is given by."""

from __future__ import annotations

from auditor.model.limit import Limit

# Next time

MARGIN_STOPS = Limit(
    1.0 / 3.0,
    "stops",
    "Advised settings leave so much headroom: a dial's step (common practice).",
)
LONGEST_S = Limit(
    32.0, "seconds", "Advised times without a filter stay within the dial: 30 s, truly 32 s."
)
WIDEST_F_NUMBER = Limit(
    8.0,
    "f-number",
    "No aperture is advised that is wider than this: a landscape wants depth (common practice).",
)
HIGHEST_ISO = Limit(1600.0, "ISO", "No higher ISO is advised.")
LONG_BEHIND_S = Limit(
    600.0,
    "seconds",
    "Beyond ten minutes behind a filter another aperture or ISO is named (common practice).",
)
WIND_FROM_S = Limit(
    1.0 / 125.0,
    "seconds",
    "From this time on leaves and grass blur in wind (common practice).",
)
STARLIGHT_STOPS = Limit(
    2.0,
    "stops below EV 0",
    "Settings for no more light than this are those of a night with stars: a landscape under the "
    "full moon has EV -3 to -2 at ISO 100 (table of ANSI PH2.7).",
)
NEAR_S = Limit(
    240.0, "seconds", "Frames as near in time share their light where nothing measures its change."
)
ROWS_GAP_S = Limit(
    60.0,
    "seconds",
    "Panoramas that follow each other within this, with the same settings, are rows of one view.",
)
SAME_FILTER_STOPS = Limit(
    0.35, "stops", "Pairs whose strengths lie nearer than this measured one filter."
)

LEAST_ISO = Limit(64.0, "ISO", "Lower speeds are mostly reached by calculation (common practice).")
TRAIL_MM_S = Limit(
    500.0,
    "seconds times mm",
    "Stars are points for so many seconds over the focal length on 24 x 36 mm (common practice).",
)
LONGER_STOPS = Limit(
    0.9, "stops", "From about twice the time on, wind and falling light have a say."
)
WIND_UNTIL_S = Limit(
    1.0,
    "seconds",
    "What moves is blurred by a longer time whatever the wind (common practice).",
)
STEADY_STOPS_PER_MIN = Limit(0.02, "stops a minute", "Light that changes by less is steady.")

# Filters and graduated filters

TRUSTED = Limit(
    0.5,
    "confidence",
    "From it on a pair has a say; a filter without such a pair has no verdict.",
)
SAME_EDGE = Limit(
    0.05, "share of the height", "A graduated filter whose edge lies within this was not moved."
)
SMOOTHED_STOPS = Limit(
    0.5,
    "stops",
    "By so much more headroom than its short sibling a matched frame is placed by its own water.",
)

# Frames to keep: what speaks against one, in about stops

BLOWN_STEP = Limit(0.5, "stops", "Against a frame that is called blown ...")
BLOWN_SLOPE = Limit(12.0, "stops", "... and for all of a frame that is blown, in proportion.")
BLOCKED_STEP = Limit(0.3, "stops", "Against a frame that is called blocked ...")
BLOCKED_SLOPE = Limit(6.0, "stops", "... and for all of a frame that is, in proportion.")
SPARE_FREE_STOPS = Limit(0.3, "stops", "Light up to this that could have been given is free.")
SPARE_SLOPE = Limit(0.15, "stops a stop", "Beyond it, light that could have been given.")
NOISE_SLOPE = Limit(
    0.25,
    "stops a stop",
    "By which the middle tones stand nearer to the noise than in the best sibling.",
)
SOFT_FREE = Limit(
    0.93,
    "of the sharpest",
    "Contrast that differs no more than its error from the sharpest sibling.",
)
SOFT_SLOPE = Limit(3.0, "stops a halving", "Of contrast beyond that.")
MOVED_SHARE = Limit(
    0.15, "share of the structure", "What the wind blurred beyond this stands against a frame."
)
HOT_SLOPE = Limit(0.1, "stops a doubling", "Of hot pixels beyond the limit on them.")
DAMAGED = Limit(5.0, "stops", "Against a frame whose data are damaged.")
WORSE_BY = Limit(0.05, "stops", "From this much more on a frame is called worse by something.")
OTHER_TIME_STOPS = Limit(
    2.0,
    "stops",
    "Two frames behind one filter whose times differ by so much show the water otherwise ...",
)
SAME_PLACEMENT_STOPS = Limit(
    1.0, "stops", "... if they were placed alike within this; else one of the times was a slip."
)

# What is suggested

MOST_LOST = Limit(
    0.10,
    "share of the frame",
    "A picture may lose so much, blown and black together, and still be suggested as one: the sun, "
    "its glitter and the dark of rocks stay well under it (common practice).",
)
MOST_UNDER_STOPS = Limit(
    4.0,
    "stops",
    "A frame that could take more light than this is not suggested as a picture: where photon "
    "noise rules, a sixteenth of the light turns a signal-to-noise ratio of 40, which ISO 12232 "
    "calls excellent, into 10, its acceptable.",
)

# Blending

AS_GOOD = Limit(
    1e-4,
    "share of the scene",
    "A set of frames that leaves out no more of what all of them record records it all: half of "
    "the least patch that is reported.",
)

NOISY_SLACK = Limit(
    2e-3,
    "share of the scene",
    "So much more may stay noisy for a blend of one frame less.",
)

# Dark frames

DARK_FROM_S = Limit(
    10.0,
    "seconds",
    "From this exposure time on the matching dark frame is named (common practice).",
)
SAME_TIME_STOPS = Limit(0.1, "stops", "A dark frame's time matches within this.")
SAME_WARMTH_C = Limit(
    5.0, "degrees C", "A dark frame is as warm within this: dark current doubles in 6 to 8 degrees."
)

# What an ISO costs

ISO_LOSS_STOPS = Limit(
    0.15,
    "stops",
    "Full well lost beyond an ISO's own cost: less is within the errors of gain and saturation.",
)
ISO_COSTS_STOPS = Limit(
    1.0 / 3.0,
    "stops",
    "Range lost against the body's best ISO, reported where a frame lost both ends.",
)
GAIN_STEP_STOPS = Limit(
    0.4,
    "stops",
    "Read noise in electrons that drops by this from one ISO to the next: a second gain.",
)
ISO_IN_VAIN = Limit(
    0.93, "times the read noise", "Where no higher ISO reads quieter than this, more is in vain."
)
