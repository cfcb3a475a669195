"""Habits that come from the gear: a preview that misleads, a filter off its marking."""

from __future__ import annotations

import math

from auditor.history.filters import LEAST_PAIRS
from auditor.history.phrases import COLOUR_WORDS, counted, said, thirds_text
from auditor.model.history import Habit, KnownFilter, PreviewRow, Spread
from auditor.model.numbers import counted_stops, stops_text
from auditor.words.cautions import FILTERS_AND_EYES
from auditor.words.nd_plan import scatter_text

LEAST_FRAMES = 8
"""Nothing is said from fewer frames."""

MISLEADING_STOPS = 0.5
LATE_STOPS = 1.0 / 3.0
OFF_MARKING_STOPS = 0.15


def preview_habit(row: PreviewRow) -> Habit | None:
    """Tell a preview that clips well before the sensor, or after it.

    The channel that misleads least counts: the whole picture is at least that far off.
    """
    told = [spread for spread in row.early.values() if spread.count >= LEAST_FRAMES]
    if not told:
        return None
    least = min(told, key=lambda spread: spread.mean)
    if least.mean <= -LATE_STOPS:
        return _late_preview(row, least)
    trust = math.floor(3.0 * (least.mean - (least.spread or 0.0)) + 1e-9) / 3.0
    if least.mean < MISLEADING_STOPS or trust < 1.0 / 3.0:
        return None
    return Habit(
        code="preview-cries-early",
        text=f"The preview of {said(row.body)} clips {counted_stops(least.mean)} before the "
        f"sensor does: when its highlights begin to blink, {thirds_text(trust)} more can still be "
        "had.",
        evidence=f"Stops too early: {_early_text(row)} of {counted(row.frames, 'frame')}, where "
        f"the picture tells; in {row.false_alarms} the preview showed lost highlights that the raw "
        "data hold.",
        weight=least.mean * (row.false_alarms + 0.25 * row.frames),
        frames=row.frames,
        value_stops=least.mean,
    )


def _late_preview(row: PreviewRow, least: Spread) -> Habit:
    return Habit(
        code="preview-cries-late",
        text=f"The preview of {said(row.body)} clips {counted_stops(-least.mean)} after the "
        "sensor does: what it shows as held may be lost, so stop short of its right edge.",
        evidence=f"Stops too early (negative: too late): {_early_text(row)} of "
        f"{counted(row.frames, 'frame')}, where the picture tells.",
        weight=-least.mean * row.frames,
        frames=row.frames,
        value_stops=least.mean,
    )


def _early_text(row: PreviewRow) -> str:
    figures = (
        f"{COLOUR_WORDS[name]} {stops_text(spread.mean)}{_scatter_text(spread)} in {spread.count}"
        for name, spread in row.early.items()
    )
    return ", ".join(figures)


def _scatter_text(spread: Spread) -> str:
    """Print the scatter; one frame alone has none."""
    return "" if spread.spread is None else f" ± {spread.spread:.2f}"


def filter_habit(known: KnownFilter) -> Habit | None:
    """Tell a filter that is plainly off its marking."""
    off = known.off_marking_stops
    error = known.spread_stops / known.count**0.5
    if known.count < LEAST_PAIRS or abs(off) < max(OFF_MARKING_STOPS, 2.0 * error):
        return None
    scatter = scatter_text(known.spread_stops)
    over, more = ("over", "more") if off > 0 else ("under", "less")
    return Habit(
        code="filter-off-marking",
        text=f"Your filter “{known.name}” holds back {counted_stops(known.stops)}, "
        f"{abs(off):.1f} {over} its marking: multiply the shutter by {_factor_text(known.stops)}, "
        f"{counted_stops(abs(off))} {more} than the marking says.",
        evidence=f"{counted(known.count, 'pair')} of {counted(known.shoots, 'shoot')}: "
        f"{known.stops:.2f} stops{scatter and ', '}{scatter}; marking {known.marking.label}.",
        weight=known.count * abs(off),
        frames=known.count,
        value_stops=off,
        caution=FILTERS_AND_EYES,
    )


def _factor_text(stops: float) -> str:
    factor = 2.0**stops
    return f"{factor:.0f}" if factor >= 10.0 else f"{factor:.1f}"
