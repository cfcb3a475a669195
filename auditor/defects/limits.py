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
    1.0,
    "seconds",
    "Hot pixels grow in exposures from this time on; in shorter ones none are counted.",
)
LASTING_FRAMES = Limit(
    3,
    "frames",
    "Hot in so many frames of more than one view, the pixel itself is at fault, not the scene.",
)
ANOTHER_VIEW_S = Limit(
    120.0,
    "seconds",
    "Set-ups less than this apart may show one view: a knocked tripod, a blown first guess.",
)

# Data that are not there, or were never written

LEAST_MISSING = Limit(
    0.005,
    "share of the picture's bytes",
    "So many beyond the end of a file were cut off; makers round lengths up by less.",
)

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
BESIDE_NOISE = Limit(
    0.6,
    "noise sigmas",
    "A block that was lost has neighbours whose largest pixel stands so far over their mean; "
    "smoothed shadows have none.",
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

BREAK_SIGMAS = Limit(
    5.0,
    "noise sigmas",
    "A border at which the mean difference to the rows around steps by so much.",
)
BREAK_RATIO = Limit(
    1.65, "times the other side", "Or their size, where the one side is rougher than the other."
)
BREAK_EXACT = Limit(
    1.25,
    "times what the best step near it leaves",
    "A step exactly at the border leaves no more of the variance than this.",
)
BREAK_ALONE = Limit(
    1.5, "times those around", "It is so much larger than any in the rows around and beside it."
)
FOREIGN_RATIO = Limit(
    1.5, "times the rows before", "A foreign run differs so much from the rows it lies between ..."
)
FEW_RATIO = Limit(3.0, "times the rows before", "... and one of less than 4 KiB by so much ...")
FOREIGN_SHARE = Limit(0.4, "share of the run", "... in so much of it; the rest may be alike.")
ASIDE_RATIO = Limit(
    1.8,
    "times its own rows beside it",
    "It differs so much: of rows that differ throughout, as at a ledge, no part is foreign.",
)
LONE_RATIO = Limit(
    6.0,
    "times the most of the rows around",
    "A cluster of which one border alone is found differs so much in most of its length ...",
)
BESIDE_RATIO = Limit(4.0, "times its own rows beside it", "... and so much at its ends.")
MIXED_CHANGES = Limit(
    48, "changes in 256 pixels", "A bit that is stuck in a sector is so mixed in the rows around."
)
STUCK_SHARE = Limit(
    0.5,
    "of the variance",
    "A bit that is stuck moves some samples by its worth: that leaves at most this of what a lift "
    "of the whole row leaves ...",
)
WIDE_SHARE = Limit(
    0.4, "of what the bit is worth", "... or noise is as wide as this, and no scene holds a bit."
)
