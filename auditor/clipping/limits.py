"""Every number that clipping is judged by."""

from __future__ import annotations

from auditor.model.limit import Limit

# Finding a pile-up

NOISE_SHARE = Limit(
    0.6,
    "share of the noise",
    "The measured noise is trusted to this share: a margin for its error.",
)
STEADIEST = Limit(
    1.0 / 447.0,
    "noise over signal",
    "The steadiest that any light is where noise is not measured: a pixel of 200,000 electrons, "
    "more than cameras have (common practice).",
)
WINDOW = Limit(0.15, "noise sigmas", "Half width of each of the three windows.")
DISTANCE = Limit(0.5, "noise sigmas", "Distance between the three windows that are compared.")
LEAST_EVIDENCE = Limit(
    40.0, "", "Twice the log of the likelihood ratio; 40 is more than six standard errors."
)
BEYOND_SHARE = Limit(
    0.05, "share of the pile-up", "So much of it may lie above it: pixels that clip higher."
)
FAR_BELOW = Limit(
    1.5, "", "A level so many times further down than another channel reaches is no clipping."
)
FEW = Limit(1e-4, "share of the plane", "From this share on, what another channel reaches counts.")
LEAST_SIGMA_DN = Limit(0.3, "DN", "Rounding to whole DN is noise too: 1/sqrt(12).")
LEAST_PIXELS = Limit(8, "pixels", "Fewer over the sky beneath them are no pile-up.")
LEAST_SIGNAL = Limit(12.0, "noise sigmas", "A pile-up lies at least so far over black.")
LEAST_RANGE_SHARE = Limit(
    0.02, "share of the claimed range", "A pile-up lies at least so far over black."
)
SIGMAS_DOWN = Limit(4.5, "spreads", "A pile-up reaches so far below its centre.")
WIDEST = Limit(3.0, "window distances", "A pile-up reaches no further below its centre than that.")
CODE_OVER_NEXT = Limit(
    3.0, "", "The lower of two codes that a level falls on holds so many times those below it."
)
STEEPEST = Limit(
    0.5, "log density a window", "The steepest background that is carried on under a pile-up."
)

# Finding the same topmost mode in several colours

MODE_LEAST_PIXELS = Limit(200, "pixels", "A mode of fewer says nothing of its width.")
MODE_LEAST_SHARE = Limit(
    3e-5, "share of the plane", "What fewer pixels reach is glitter over the topmost mode."
)
MODE_REACH = Limit(
    0.15, "share of the reach", "A mode of clipped pixels lies so near to what the plane reaches."
)
MODE_WIDEST = Limit(
    0.015,
    "share of the signal",
    "The widest mode that clipping makes: pixels of a sensor differ by up to half a percent, rows "
    "by less (common practice), and a codec rings about them.",
)
MODE_BEYOND = Limit(0.1, "share of the mode", "So much may lie five spreads above it.")
MODE_OVER_VALLEY = Limit(3.0, "", "The mode is so many times denser than the valley below it.")
LIKE_LEVELS = Limit(
    0.01, "share of the signal", "Colours of one sensor clip as near to one another as this."
)
LIKE_SHARES = Limit(
    1.05, "", "Modes of two colours whose counts are nearer than this may be one object's."
)
TOGETHER = Limit(
    0.7, "share of the scarcer mode", "Where one colour is at its top, the other is at its own."
)

# More than one level in a plane

APART_LEAST_SHARE = Limit(
    1e-3, "share of the plane", "As much may clip unseen in other lines: less is not looked for."
)
LINE_LEAST_PIXELS = Limit(20, "pixels", "A line in which fewer clip is not held against the next.")
APART_LINES = Limit(
    0.4, "share of the line beside", "A line as bright as both beside it that clips less, or more."
)
APART_SHARE = Limit(
    0.07,
    "share of the lines",
    "With so many that clip less, or more, than both lines beside them ...",
)
APART_FAR_SHARE = Limit(
    0.025, "share of the lines", "... or so many that do not come within two percent of the level."
)
APART_LEAST_LINES = Limit(4, "lines", "Fewer are defects, or edges of a scene.")
WHOLE_LINE = Limit(0.9, "share of the line", "A column that clips so far is bright all over.")
WHOLE_FEW = Limit(0.05, "share of the lines", "With more that are, something in front was bright.")
WHOLE_MOST = Limit(
    0.5, "share of the pile-up", "Where bright columns make so much of it, it may be theirs alone."
)
RUNS_UNDER = Limit(
    0.02, "share of the runs", "So many runs of pixels, steadier than light, stand under the level."
)
RUNS_AT = Limit(0.1, "share of the runs", "So many at each, or there is one level and a few rings.")
PATCH_SLOPE = Limit(
    0.03,
    "share of the signal",
    "Pixels of a patch differ by no more, or a scene's edge runs there.",
)
PATCH_STEADY = Limit(
    0.25,
    "noise sigmas",
    "A patch that scatters by less about its slope is no light: of 16 pixels of the normal law "
    "none in 600,000 does.",
)
PATCHES_LEAST = Limit(40, "patches", "Fewer that clip do not tell how their level varies.")
MIDDLE = Limit(0.6, "share of the top signal", "Tones under it are middle: far from any clipping.")
PATCHES_MIDDLE = Limit(
    0.02, "share of the patches", "With more as steady in middle tones the data were smoothed."
)
PATCHES_MOST = Limit(
    0.5, "share of the patches", "So many of those that clip are steady; else rows or pixels vary."
)
PATCHES_STEPS = Limit(
    10.0, "times the step", "They differ by so many times what two patches side by side do."
)
PATCHES_APART = Limit(
    0.0015, "share of the level", "Levels of patches that differ by more differ with the place."
)
LEVELS_APART = Limit(0.001, "share of the level", "Two levels lie at least so far apart ...")
LEVELS_SPREADS = Limit(5.0, "spreads", "... and by so many of their own: rows at random do not.")

# Settling over a shoot

OUTLIER_SHARE = Limit(
    0.03,
    "share of the level",
    "A pile-up further from those of its sister frames is something else than clipping.",
)
LEAST_SISTERS = Limit(3, "frames", "So many sister frames overrule a frame's own pile-up.")
ABOVE_TAG_SHARE = Limit(
    1e-5, "share of the plane", "With more pixels above it, a claimed white level is too low."
)

NEAR_TOP = Limit(
    0.02, "share of the signal", "So near to what a plane reaches a pixel is at its top."
)
MANY_NEAR_TOP = Limit(
    0.01, "share of the plane", "From so many pixels at the top on, a claimed level may be wrong."
)
BEYOND_TOP = Limit(
    0.03, "share of the signal", "Where the sensor records so much more, the top is no clipping."
)

FEW_IN_MODE = Limit(
    1e-3,
    "share of the plane",
    "So many in a mode of their own at the very top may be clipped too.",
)
LOOSEST = Limit(
    0.0065,
    "share of the signal",
    "One that spreads more is no one level: pixels and rows together differ by half a percent "
    "(common practice), what a camera filled in where it clipped by more.",
)
BEYOND_SPREADS = Limit(
    6.0, "spreads of the pile-up", "So far above its level a pixel was made brighter afterwards ..."
)
BEYOND_LEAST_DN = Limit(6.0, "DN", "... and at least so far.")
LEADS_UP = Limit(0.05, "share of the level", "Light that leads up to a level lies so far under it.")
ALONE = Limit(
    0.01, "share of the pile-up", "With less that leads up to it a pile-up may be an even wall ..."
)
BENT_SPREAD = Limit(
    3e-4,
    "share of the signal",
    "... whose noise a bend narrowed, if one spreads by more: most sensors clip within a "
    "ten-thousandth (common practice).",
)
BORNE_OUT = Limit(
    0.004,
    "share of the level",
    "... and light leads up to none so near, in another colour or a sister frame.",
)
CROWDED = Limit(
    1.5,
    "",
    "Just under the level a plane is so many times denser than farther down: then its response "
    "bends over, or pixels were smoothed, averaged or joined after they clipped.",
)
CROWD_LEAST = Limit(
    4e-4, "share of the plane", "So much more than farther down crowds: about as much may be blown."
)
CROWD_SLIGHT = Limit(
    1.2,
    "",
    "Just under sharp pile-ups of two colours or more are so many times as many pixels as expected "
    "where a camera averaged two exposures ...",
)
CROWD_SURE = Limit(
    3.0, "standard errors", "... and more by so much, with the most crowded colour left out ..."
)
CROWD_SLIGHT_LEAST = Limit(
    1.5e-4, "share of the planes", "... and by so much: some three times as many may be blown."
)
CROWD_NEAR = Limit(
    0.0025,
    "share of the signal",
    "Just under the level is from it so far down, or twice, four or eight times as far.",
)
CROWD_FAR = Limit(5.0, "times", "Farther down is from twice to so many times as far under it.")
CROWD_SPREADS = Limit(
    2.0, "spreads of the pile-up", "What lies so near under its edge may clip as well: left out."
)
CROWD_CODES = Limit(4.0, "codes", "So many must be left to count in, where they lie apart.")

END_WIDE = Limit(0.02, "share of the signal", "The end of what light reaches is so wide ...")
ENDS_HARD = Limit(
    0.36,
    "share of the end",
    "... and its upper half holds so much of it only where light does not fade: half of it under "
    "a cut, less than a third where noise or a scene ends.",
)
END_PILED = Limit(0.64, "share of the end", "With more in its upper half it is a pile-up.")
END_LEAST = Limit(8e-4, "share of the plane", "Of fewer a rim of what is blown tells nothing.")
ENDS_ALIKE = Limit(
    0.003, "share of the signal", "Colours cut at one level end so near to one another."
)

CODE_UNSURE = Limit(
    1e-3, "share of the plane", "With so much in the code under the level, more may be blown ..."
)
CODE_WIDE = Limit(
    0.007, "share of the signal", "Codes so far apart do not tell the level within a half percent."
)
CODE_WIDE_LENT = Limit(
    0.0018,
    "share of the signal",
    "Likewise where the level is that of others, which fills no code.",
)
CODE_UNSURE_OF = Limit(0.02, "share of what is blown", "... unless it is a small part of it.")

# Against a shorter frame of the set-up

GROWN_LEAST_TILES = Limit(12, "tiles", "So many tell how a frame grew, and where it did not.")
GROWN_OVER = Limit(
    1.2, "", "A tile that is expected to lie so many times over the top would, were it not clipped."
)
GROWN_FLAT = Limit(0.01, "share of the signal", "Tiles that clip lie so near to one level.")
GROWN_AT_TOP = Limit(
    0.7, "share of the tiles", "So many of those expected over the top stand at it."
)
GROWN_SPAN_STOPS = Limit(
    0.3, "stops", "What is expected of them differs by so much: an even surface tells nothing."
)
GROWN_TOO_DARK = Limit(
    0.1,
    "share of the tiles",
    "With more that stand at the level although expected under it, a long time evened it out.",
)

# Which frames are of one sensor

MODULE_CROP = Limit(
    3.5,
    "times the focal length",
    "Sensors with more crop lie in phones, whose modules are told apart by their lenses.",
)
MODULE_MM = Limit(
    7.5,
    "mm",
    "Likewise under this focal length, where the crop is not known: no camera lens has it.",
)

# Where in the picture

SAME_COUNT_SHARE = Limit(
    0.02,
    "share of the count",
    "Tiles counted at one level serve another when the plane's counts agree this well.",
)
WHOLLY = Limit(
    0.5, "share of the tile", "From it on a tile is lost, and belongs to the core of a patch."
)
HOT_SHARE = Limit(
    0.004, "share of the tile", "Fewer clipped pixels in a dark tile are hot pixels, not light."
)
HOT_TONE = Limit(0.2, "share of saturation", "A tile darker than this is dark.")
MEAN_ERROR = Limit(
    0.085,
    "noise floors",
    "A tile's mean that is more uncertain at the floor is joined with those around it: up to here "
    "a tone of half a floor, or one and a half, is told by six standard errors.",
)

# Findings

SMALL_LOSS = Limit(
    1e-3,
    "share of the frame",
    "Where less is blown with a patch, the loss is graded a patch, not an area: the frame is not "
    "called blown, it asks for no less light and takes no line at the end.",
)
CHANNEL_LEAST_SHARE = Limit(
    1e-3, "share of the plane", "One channel blown alone is worth saying from here on."
)
CHANNEL_ALONE = Limit(
    0.8, "share of the worst channel", "The others must have lost less than the rest of this."
)
WHITE_LEVEL_OFF_STOPS = Limit(
    0.03, "stops", "A claimed white level this far from the real one is worth saying."
)
