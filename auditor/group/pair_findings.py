"""What a filtered frame and its sibling have to say."""

from __future__ import annotations

from collections.abc import Iterator

from auditor.findings.base import ShootView, finding
from auditor.light.casts import LEAST_CAST_STOPS, cast_word, strongest_cast
from auditor.light.cautions import EYES_IN_SHORT, GROUND_IN_SHORT
from auditor.light.nominal import nominal_name
from auditor.model.audit import Marking, SiblingPair
from auditor.model.findings import Finding, FindingKind, Severity
from auditor.model.numbers import counted_stops

PLACEMENT_OFF_LIMIT_STOPS = 0.5

PLACEMENT_OFF = FindingKind(
    code="placement-off",
    title="Long frame placed otherwise",
    severity=Severity.NOTE,
    meaning="Behind the filter the tones landed higher or lower than in the unfiltered sibling.",
    measured="log2 of the long frame's signal over the short frame's, over places that hold still.",
    next_time="Multiply the short frame's time by 2 to the power of the filter's measured stops; "
    "where the light falls meanwhile, give as much more. auditor nd-time reckons both, with "
    "--stops and --drift.",
    caution=GROUND_IN_SHORT,
)


def find_placement_off(view: ShootView) -> Iterator[tuple[str, Finding]]:
    """Tell of long frames placed more than half a stop off."""
    for pair in view.grouping.siblings:
        off = pair.placement_difference_stops
        if not pair.best or abs(off) < PLACEMENT_OFF_LIMIT_STOPS:
            continue
        where = "above" if off > 0 else "below"
        yield (
            pair.long,
            finding(
                PLACEMENT_OFF,
                f"Placed {counted_stops(abs(off))} {where} its short sibling; "
                f"{_matching(pair.matched_time_s)}.",
                off,
                limit=PLACEMENT_OFF_LIMIT_STOPS,
                unit="stops",
            ),
        )


def _matching(matched_s: float | None) -> str:
    if matched_s is None:
        return (
            "no shutter time would have matched, for the light fell too fast: take a thinner "
            "filter, open the aperture or raise the ISO"
        )
    return f"{nominal_name(matched_s)} would have matched"


FILTER_OFF_MARKING_LIMIT_STOPS = 0.25

FILTER_OFF_MARKING = FindingKind(
    code="filter-off-marking",
    title="Filter off its marking",
    severity=Severity.NOTE,
    meaning="The neutral-density filter held back more or less light than the nearest usual "
    "marking.",
    measured="Exposure difference less log2 of the long frame's signal over the short frame's, "
    "over places that hold still, against the nearest usual marking.",
    next_time="Reckon with the measured stops, not with the marking.",
    caution=EYES_IN_SHORT,
)


def find_filter_off_marking(view: ShootView) -> Iterator[tuple[str, Finding]]:
    """Tell of each long frame whose filter is off by more than a quarter of a stop."""
    for pair in view.grouping.siblings:
        if not pair.best or abs(pair.off_marking_stops) < FILTER_OFF_MARKING_LIMIT_STOPS:
            continue
        more = "more" if pair.off_marking_stops > 0 else "less"
        yield (
            pair.long,
            finding(
                FILTER_OFF_MARKING,
                f"The filter held back {counted_stops(pair.filter_stops)}: "
                f"{abs(pair.off_marking_stops):.2f} {more} than the nearest marking, "
                f"{_named(pair.nearest_marking)}.",
                pair.off_marking_stops,
                limit=FILTER_OFF_MARKING_LIMIT_STOPS,
                unit="stops",
            ),
        )


def _named(marking: Marking) -> str:
    """Name a marking as it is written: thirds of a stop have no short figure."""
    return marking.label or counted_stops(marking.stops)


FILTER_CAST = FindingKind(
    code="filter-cast",
    title="Colour cast of the filter",
    severity=Severity.NOTE,
    meaning="The filter held back one colour more than green: the long frame turns to the other "
    "side. Raw data take the correction well unless that channel is short of light.",
    measured="Filter stops of red and blue less those of green.",
    next_time="Set the white balance for the filtered frame on its own, and give the weak channel "
    "the light it lacks.",
)


def find_filter_cast(view: ShootView) -> Iterator[tuple[str, Finding]]:
    """Tell of the stronger cast of each pair."""
    for pair in view.grouping.siblings:
        strongest = strongest_cast(pair.cast_stops) if pair.best else None
        if strongest is None:
            continue
        colour, cast = strongest
        name = {"R": "red", "B": "blue"}.get(colour, colour)
        more = "more" if cast > 0 else "less"
        yield (
            pair.long,
            finding(
                FILTER_CAST,
                f"The filter held back {name} {counted_stops(abs(cast), digits=2)} {more} than "
                f"green: a {cast_word(pair.cast_stops)} cast.",
                cast,
                limit=LEAST_CAST_STOPS,
                unit="stops",
                channel=colour,
            ),
        )


LIGHT_CHANGED_LIMIT_STOPS = 0.33

LIGHT_CHANGED = FindingKind(
    code="light-changed",
    title="Light moved meanwhile",
    severity=Severity.NOTE,
    meaning="Between the short frame and its filtered sibling the ambient light rose or fell.",
    measured="Unfiltered frames before and after, at the middle of each exposure.",
    next_time="At dusk add the fall of light to a long exposure, and take an unfiltered frame "
    "before and after.",
)


def find_light_changed(view: ShootView) -> Iterator[tuple[str, Finding]]:
    """Tell of a drift above a third of a stop."""
    for pair in view.grouping.siblings:
        drift = pair.light_drift_stops
        if not pair.best or drift is None or abs(drift) < LIGHT_CHANGED_LIMIT_STOPS:
            continue
        yield (
            pair.long,
            finding(
                LIGHT_CHANGED,
                f"The light {_moved(pair, drift, view)}.",
                drift,
                limit=LIGHT_CHANGED_LIMIT_STOPS,
                unit="stops",
            ),
        )


def _moved(pair: SiblingPair, drift: float, view: ShootView) -> str:
    """Tell the change in order of time; the drift itself runs from the short frame to the long."""
    order = next((setup.frames for setup in view.grouping.setups if setup.id == pair.setup), ())
    places = [order.index(frame) for frame in (pair.short, pair.long) if frame in order]
    long_first = len(places) == 2 and places[1] < places[0]
    verb = "rose" if (drift > 0) != long_first else "fell"
    ends = f"this frame to {pair.short}" if long_first else f"{pair.short} to this frame"
    return f"{verb} by {counted_stops(abs(drift))} from {ends}"
