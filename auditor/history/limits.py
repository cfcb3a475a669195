"""Every number that a history is judged by."""

from __future__ import annotations

from auditor.model.limit import Limit

# Habits

LEAST_FRAMES = Limit(8, "frames", "Nothing is said from fewer.")
RESERVE_STOPS = Limit(1.0 / 3.0, "stops", "Kept in hand when more light is advised.")
STANDS_OUT_STOPS = Limit(
    1.0 / 3.0, "stops", "By so much a kind of frame differs from the rest to be named ..."
)
STANDS_OUT_ERRORS = Limit(
    2.0, "standard errors of the difference", "... and by so many: less could be chance."
)
OFTEN = Limit(0.2, "share of the frames", "From it on a loss is a habit.")
EARLY_STOPS = Limit(0.5, "stops", "A preview that clips so much before the sensor is reported.")
LATE_STOPS = Limit(1.0 / 3.0, "stops", "Or so much after it.")
OFF_MARKING_STOPS = Limit(0.15, "stops", "A filter so far off its marking is reported ...")
OFF_MARKING_ERRORS = Limit(2.0, "standard errors", "... where it is off by so many.")

# Filters that recur

LEAST_PAIRS = Limit(3, "pairs", "Fewer do not make a filter known.")
LEAST_CONFIDENCE = Limit(0.5, "", "Pairs that are less sure are not asked.")
LEVEL_SCALE_STOPS = Limit(
    0.25,
    "stops",
    "Pairs of one filter lie within this of its mean: light that moves costs up to 0.1 stop.",
)
CAST_SCALE_STOPS = Limit(
    0.12, "stops", "Casts scatter less, for the light moves in all channels alike."
)

# Frames that were taken again

RETAKE_S = Limit(180.0, "seconds", "A second try comes within this time ...")
LEAST_LESS_STOPS = Limit(1.0 / 3.0, "stops", "... with at least so much less exposure.")
MADE_GOOD = Limit(
    0.1, "share of the loss", "One that still loses no more than this made the first good."
)

# Days and hot pixels

NIGHT_ENDS_H = Limit(
    3, "hours", "What is taken before it belongs to the evening before (common practice)."
)
LONG_S = Limit(
    1.0, "seconds", "From this shutter time on hot pixels count as those of a long exposure."
)
STAYING_S = Limit(
    5.0,
    "seconds",
    "From this shutter time on most defects have outgrown what the scene itself lays over them.",
)
