"""What a filtered frame and its sibling have to say."""

from __future__ import annotations

import math
from collections.abc import Iterator

from auditor.advise.filters import filter_verdicts
from auditor.findings.base import ShootView, finding
from auditor.group.limits import (
    FILTER_OFF_MARKING_LIMIT_STOPS,
    LIGHT_CHANGED_LIMIT_STOPS,
    PLACEMENT_OFF_LIMIT_STOPS,
)
from auditor.light.filters import LEAST_CAST_STOPS, nearest_marking, strongest_cast
from auditor.model.audit import SiblingPair
from auditor.model.findings import Finding, FindingCode, Severity
from auditor.model.remark import Doubt


def find_placement_off(view: ShootView) -> Iterator[tuple[str, Finding]]:
    """Tell of long frames placed more than half a stop off."""
    for pair in _best_pairs(view):
        off = pair.placement_difference_stops
        if abs(off) >= PLACEMENT_OFF_LIMIT_STOPS:
            yield (
                pair.long,
                finding(
                    FindingCode.PLACEMENT_OFF,
                    Severity.NOTE,
                    off,
                    limit=PLACEMENT_OFF_LIMIT_STOPS,
                    unit="stops",
                    short=pair.short,
                    matched_time_s=pair.matched_time_s,
                ),
            )


def find_filter_off_marking(view: ShootView) -> Iterator[tuple[str, Finding]]:
    """Tell of a filter off by more than a quarter of a stop, once, at its first frame."""
    for verdict in filter_verdicts(view.grouping.siblings):
        if abs(verdict.off_marking_stops) >= FILTER_OFF_MARKING_LIMIT_STOPS:
            yield (
                verdict.frames[0],
                finding(
                    FindingCode.FILTER_OFF_MARKING,
                    Severity.NOTE,
                    verdict.off_marking_stops,
                    limit=FILTER_OFF_MARKING_LIMIT_STOPS,
                    unit="stops",
                    filter_stops=verdict.stops,
                    marking=nearest_marking(verdict.stops).label,
                    marking_stops=verdict.marking_stops,
                ),
            )


def find_filter_cast(view: ShootView) -> Iterator[tuple[str, Finding]]:
    """Tell of the stronger cast of each filter, once, at its first frame."""
    for verdict in filter_verdicts(view.grouping.siblings):
        strongest = strongest_cast(verdict.cast_stops)
        # told later where the light reddened, or may have unseen
        pairs = [p for p in _best_pairs(view) if p.long in verdict.frames and p.cast_stops]
        reddened = [
            sum(doubt.value for doubt in pair.doubts if doubt.code is Doubt.ONE_SIDE)
            for pair in pairs
        ]
        limit = LEAST_CAST_STOPS + min(reddened, default=0.0)
        if strongest is not None and round(abs(strongest[1]), 2) >= limit:
            colour, cast = strongest
            yield (
                verdict.frames[0],
                finding(
                    FindingCode.FILTER_CAST,
                    Severity.NOTE,
                    cast,
                    limit=limit,
                    unit="stops",
                    channel=colour,
                    cast=verdict.cast,
                ),
            )


def find_light_changed(view: ShootView) -> Iterator[tuple[str, Finding]]:
    """Tell of a drift above a third of a stop."""
    order = {frame: n for setup in view.grouping.setups for n, frame in enumerate(setup.frames)}
    for pair in _best_pairs(view):
        drift = pair.light_drift_stops
        if drift is not None and abs(drift) >= LIGHT_CHANGED_LIMIT_STOPS:
            yield (
                pair.long,
                finding(
                    FindingCode.LIGHT_CHANGED,
                    Severity.NOTE,
                    drift,
                    limit=LIGHT_CHANGED_LIMIT_STOPS,
                    unit="stops",
                    short=pair.short,
                    # the drift runs from the short to the long
                    long_first=order.get(pair.long, math.inf) < order.get(pair.short, -1),
                ),
            )


def _best_pairs(view: ShootView) -> Iterator[SiblingPair]:
    return (pair for pair in view.grouping.siblings if pair.best)
