"""Habits that come from the gear: a preview that misleads, a filter off its marking."""

from __future__ import annotations

import math

from auditor.history.filters import LEAST_PAIRS
from auditor.model.history import Habit, HabitCode, KnownFilter, PreviewRow

LEAST_FRAMES = 8
"""Nothing is said from fewer frames."""

MISLEADING_STOPS = 0.5
LATE_STOPS = 1.0 / 3.0
OFF_MARKING_STOPS = 0.15


def preview_habit(row: PreviewRow) -> Habit | None:
    """Tell a preview that clips well before the sensor, or after it.

    A neutral highlight counts, as in an audit: red may blink a stop sooner by its white balance
    alone, and more light than neutral tones bear would blow green.
    """
    least = row.neutral
    if least is None or least.count < LEAST_FRAMES:
        return None
    if least.mean <= -LATE_STOPS:
        return Habit(
            code=HabitCode.PREVIEW_LATE,
            weight=-least.mean * row.frames,
            frames=row.frames,
            value_stops=least.mean,
            preview=row,
        )
    trust = math.floor(3.0 * (least.mean - (least.spread or 0.0)) + 1e-9) / 3.0
    if least.mean < MISLEADING_STOPS or trust < 1.0 / 3.0:
        return None
    return Habit(
        code=HabitCode.PREVIEW_EARLY,
        weight=least.mean * (row.false_alarms + 0.25 * row.frames),
        frames=row.frames,
        value_stops=least.mean,
        figures={"give_stops": trust},
        preview=row,
    )


def filter_habit(known: KnownFilter) -> Habit | None:
    """Tell a filter that is plainly off its marking."""
    off = known.off_marking_stops
    error = known.spread_stops / known.count**0.5
    if known.count < LEAST_PAIRS or abs(off) < max(OFF_MARKING_STOPS, 2.0 * error):
        return None
    return Habit(
        code=HabitCode.FILTER_OFF_MARKING,
        weight=known.count * abs(off),
        frames=known.count,
        value_stops=off,
        filter=known,
    )
