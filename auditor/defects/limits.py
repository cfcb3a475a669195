"""Every number that hot pixels and damage are judged by."""

from __future__ import annotations

from auditor.model.limit import Limit

# Hot pixels

HOT_SIGMAS = Limit(8.0, "noise sigmas", "A hot pixel stands so far over its brightest neighbour.")
HOT_CONTRAST = Limit(
    3.0, "times the range of its neighbours", "It stands so far over them: texture does not."
)
SPREAD_SHARE = Limit(
    0.08,
    "share of the peak",
    "A lens spreads more of a point of light to each of the four pixels around, on average ...",
)
SPREAD_SIGMAS = Limit(3.0, "noise sigmas", "... which counts where it is surer than this.")
CROWD_SHARE = Limit(0.02, "share of a stripe", "More candidates are texture: the threshold rises.")
HOT_FROM_S = Limit(
    1.0, "seconds", "Hot pixels grow in exposures from this time on; in shorter ones none are told."
)
LASTING_FRAMES = Limit(3, "frames", "Hot in so many frames ...")
LASTING_VIEWS = Limit(
    2, "views", "... of so many views, the pixel itself is at fault, not the scene."
)
ANOTHER_VIEW_S = Limit(
    120.0,
    "seconds",
    "Set-ups less than this apart may show one view: a knocked tripod, a blown first guess.",
)

# Data that were never written

EMPTY_SHARE = Limit(0.9, "share of the plane", "A plane with more zeros was never written.")
LOST_SIGMAS = Limit(
    12.0, "noise sigmas", "So far under black lies nothing that a sensor recorded ..."
)
LEAST_DEPTH_DN = Limit(8.0, "DN", "... and at least this.")
LEAST_LOST = Limit(64, "pixels", "Fewer may be dead pixels.")
LOST_DEPTH = Limit(
    0.5,
    "share of black",
    "What was never written lies further under black: noise of whole rows, and black that drifts, "
    "do not reach so far.",
)
RUN_SHARE = Limit(
    0.7,
    "share of the lost pixels",
    "Lost data come in runs along the rows, dead pixels alone: so many have a lost neighbour.",
)
ROW_SHARE = Limit(
    0.95,
    "share of the row",
    "A row of which so much holds one value, as no noise leaves it, is lost.",
)
LEAST_NOISE_STEPS = Limit(
    1.5,
    "steps between values",
    "With less noise even places are no wonder: two neighbours are then alike more often than one "
    "time in five.",
)
BEYOND_WHITE = Limit(
    2.0,
    "times the white level",
    "Sensors record somewhat more than their files claim, and never so much more.",
)
MOST_BEYOND = Limit(
    0.5,
    "share of the picture",
    "Where more lies beyond the white level, it is the claim that is wrong.",
)
LEAST_CELL_PX = Limit(
    12, "pixels of all planes", "Of fewer some are alike by chance in a large picture."
)

# Rows at which the picture breaks

SPIKE = Limit(
    3.0, "times the usual difference", "A row that differs so much from the next is looked at."
)
ALIKE = Limit(
    0.55, "correlation", "The rows above and those below are alike from it on, once moved back."
)
UNALIKE = Limit(0.6, "share of that", "At any other displacement they are less alike than this.")
LEAST_MOVE_PX = Limit(4, "pixels", "A smaller move may be an edge that runs aslant.")
LIFT_SHARE = Limit(
    0.25,
    "share of the lift",
    "A lift scatters less than this over the columns: it is the same in all.",
)
SLOPE_OFF = Limit(
    0.15,
    "of 1",
    "The contrast below is so near to that above: a shadow's edge or a step of a wall scales what "
    "lies above it, lost data lift it.",
)
HOT_BOUND = Limit(3.0, "scatters", "Single pixels further off count as no more than this.")
ROW_CONTRAST = Limit(
    4.0, "times the noise between rows", "A row that scatters less is even and tells nothing."
)

# Sectors that hold other data

COARSE_RATIO = Limit(
    2.5, "times the other side", "A border with such a step at the first look is looked at closely."
)
STEP_RATIO = Limit(
    2.5,
    "times the other side",
    "The mean difference on one side of a border: ten times its own error.",
)
NEAR_RATIO = Limit(
    2.0, "times the other side", "Likewise for the few pixels nearest to the border."
)
FOREIGN_RATIO = Limit(
    2.0, "times the quiet side", "From so much on, a side of another row is changed too."
)
SECTOR_STEP_DN = Limit(2.0, "DN", "A smaller step may be rounding.")
FOREIGN_SHARE = Limit(
    0.5,
    "share of the run",
    "So much of a foreign run differs visibly from what lies above; the rest may be alike.",
)
