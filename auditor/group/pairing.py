"""One filtered frame held against its best unfiltered sibling, the light's drift taken out."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import islice

import numpy as np

from auditor.group.drift import Scatter, between, mean_over_middle, scatter_of
from auditor.group.limits import (
    BEND_ERROR,
    BENT_ERROR,
    BENT_LEAST_STOPS,
    FASTEST_STOPS_PER_S,
    LEVEL_ERROR_STOPS,
    NO_CLOUD_STOPS,
    PACE_ERROR,
    PAIR_LEAST_OVERLAP,
    POLARISER_LEAST_STOPS,
    POLARISER_MOST_STOPS,
    SUDDEN_ERROR,
    TONE_STOPS,
    UNEVEN_COLOUR_STOPS,
    UNEVEN_SHARE,
    UNEVEN_STOPS,
    UNTOLD_TINT_STOPS,
    WATER_SLACK,
)
from auditor.group.moving import core_of_rows
from auditor.group.pace import Pace
from auditor.group.ratio import Attenuation, measure_attenuation
from auditor.group.view import SetupView
from auditor.model.arrays import Bool
from auditor.model.rejected import Reason, Why
from auditor.model.settings import GroupSettings

STOPS_PER_MINUTE_APART = 0.35
PER_STOP_OF_PLACEMENT = 0.1
"""What makes a short frame the better sibling: near in time first, then alike in placement."""

AFTERWARDS = 0.25
"""A short frame is more often taken before the filter goes on than after it came off."""

UNLIKE_GRADS = 1.0
"""Where only one of them has a graduated filter, another sibling is better if there is one."""

NEAREST = 24
"""Unfiltered frames that are looked at on each side."""


@dataclass(frozen=True, slots=True, eq=False)
class PairMeasurement:
    """A pair as measured.

    Parameters
    ----------
    short, long : int
        Places in the set-up.
    direct : Attenuation
        Long against short as recorded, the drift of the light still in it.
    stops : dict
        Colour to filter stops, the drift taken out where it is told.
    drift_stops : float or None
        By how much the light rose from the short frame to the long one.
    other : int or None
        The unfiltered frame on the other side in time that tells the drift; None where there
        is none (the drift is then told by the pace of the light near that time, or not at all).
    drift_stops_per_min : float or None
        The pace of the light about the long frame; None where no drift or no clock tells it.
    drift_error_stops : float
        Standard error of the drift, where it is told.
    reddened_stops : float
        By how much the colours of the light may have changed meanwhile, still in the cast.
    jump_chance : float
        How often the light jumped between unfiltered frames of the shoot.
    like_another_stops : float
        How far it lies from another pair of the shoot that has the same cast; 0 where none does.
    scatter : Scatter or None
        Of unfiltered frames of the short one's settings; None where too few repeat them.
    """

    short: int
    long: int
    direct: Attenuation
    stops: dict[str, float]
    drift_stops: float | None = None
    other: int | None = None
    drift_stops_per_min: float | None = None
    drift_error_stops: float = 0.0
    reddened_stops: float = 0.0
    jump_chance: float = 0.0
    like_another_stops: float = 0.0
    scatter: Scatter | None = None


def measure(
    view: SetupView, long: int, pace: Pace, settings: GroupSettings
) -> PairMeasurement | None:
    """Hold a filtered frame against its best sibling; None where there is none."""
    times, level = view.series.time_s, view.series.level_stops
    longest = float(times[long]) * 2.0**-settings.filter_least_stops * (1 + 1e-6)
    sides = []  # the best unfiltered, shorter frame before, and after
    for places in (range(long - 1, -1, -1), range(long + 1, len(view.seen))):
        good = (
            place
            for place in places
            if not view.flagged[place]
            and view.seen[place] is not None
            and np.isfinite(level[place])
            and 0 < float(times[place]) <= longest
            and _overlap(view, place, long) >= PAIR_LEAST_OVERLAP
        )
        near = islice(good, NEAREST)
        sides.append(min(near, key=lambda place: _cost(view, place, long), default=None))
    before, after = sides
    options = [place for place in (before, after) if place is not None]
    if not options:
        return None
    short = min(options, key=lambda place: _cost(view, place, long))
    direct = _held(view, long, [(short, 1.0)])
    if direct is None:
        return None
    pair = PairMeasurement(
        short,
        long,
        direct,
        direct.stops,
        jump_chance=pace.jump_chance,
        scatter=scatter_of(view.series, _alike(view, short)),
    )
    if before is None or after is None:
        return _by_pace(view, pair, pace)
    return _by_both_sides(view, pair, before, after, pace)


def _alike(view: SetupView, short: int) -> Bool:
    """Tell which unfiltered frames have the settings of one, and no graduated filter either."""
    graded = {grad.with_ for grad in view.grads}
    settings = [
        (shot.time_s, shot.facts.exposure.true_f_number, shot.facts.exposure.true_iso)
        for shot in view.setup.shots
    ]
    same = [told == settings[short] and n not in graded for n, told in enumerate(settings)]
    return np.array(same) & ~view.flagged


def no_filter(view: SetupView, pair: PairMeasurement, settings: GroupSettings) -> Why | None:
    """Tell what speaks against a filter; None where nothing does."""
    stops, direct = pair.stops[view.main], pair.direct
    if stops < settings.filter_least_stops:
        return Why(Reason.TOO_WEAK, stops, settings.filter_least_stops)
    if direct.overlap < PAIR_LEAST_OVERLAP:
        return Why(Reason.LITTLE_SHARED, direct.overlap, PAIR_LEAST_OVERLAP)
    if stops < NO_CLOUD_STOPS and direct.by_tone_stops > TONE_STOPS:
        return Why(Reason.UNEVEN, direct.by_tone_stops, float(TONE_STOPS))
    cloud = stops < NO_CLOUD_STOPS and not may_be_polariser(view, pair)
    if cloud and is_uneven(view, pair):
        return Why(Reason.UNEVEN, direct.uneven_stops, _most_uneven(stops))
    return None


def is_uneven(view: SetupView, pair: PairMeasurement) -> bool:
    """Whether the parts of the picture disagree more than under a filter alone."""
    return pair.direct.uneven_stops > _most_uneven(pair.stops[view.main])


def may_be_polariser(view: SetupView, pair: PairMeasurement) -> bool:
    """Whether so much was held back, unevenly and in uneven colour, as polarisers do."""
    fits = POLARISER_LEAST_STOPS <= pair.stops[view.main] <= POLARISER_MOST_STOPS
    return fits and pair.direct.colour_uneven_stops >= UNEVEN_COLOUR_STOPS


def _most_uneven(stops: float) -> float:
    return max(UNEVEN_STOPS, UNEVEN_SHARE * stops)


def _by_pace(view: SetupView, pair: PairMeasurement, pace: Pace) -> PairMeasurement:
    """Take out the pace of the light near that time, colour by colour, where the time is known.

    Only where unfiltered frames before and after tell it; else it tells no more than how far the
    cast may be off.
    """
    untold = replace(pair, reddened_stops=float(UNTOLD_TINT_STOPS))
    if not view.series.timed:
        return untold
    at, time_s = view.series.middle_s, float(view.series.time_s[pair.long])
    first, last = sorted((float(at[pair.short]), float(at[pair.long])))
    apart_s = float(at[pair.long] - at[pair.short])
    rate, tints = pace.rate_at((first + last) / 2.0), pace.tint_rates_at((first + last) / 2.0)
    reddened = [abs(tint * apart_s) for tint in tints.values()] if tints else [UNTOLD_TINT_STOPS]
    if rate is None or not pace.surrounds(first, last):
        return replace(pair, reddened_stops=float(max(reddened)))
    drift = rate * apart_s + mean_over_middle(rate * time_s)
    stops = {
        name: value + (tints or {}).get(name, 0.0) * apart_s
        for name, value in _raised(pair.direct.stops, drift).items()
    }
    return replace(
        pair,
        stops=stops,
        drift_stops=drift,
        drift_stops_per_min=60.0 * rate,
        drift_error_stops=PACE_ERROR * abs(drift),
    )


def _by_both_sides(
    view: SetupView, pair: PairMeasurement, before: int, after: int, pace: Pace
) -> PairMeasurement:
    """Hold the long frame against what lies between the frames before and after, tile by tile.

    Where no tile is recorded by all three, the levels of the frames tell the drift. Light that
    falls ever faster leaves the straight line between the two, by ``b (t - t0) (t1 - t) / 2``
    under it, where other frames of the shoot tell the bend b.
    """
    at, level = view.series.middle_s, view.series.level_stops
    change = _change(view, before, after)
    place = between(
        float(at[before]), float(at[after]), float(at[pair.long]),
        float(view.series.time_s[pair.long]), change,
    )  # fmt: skip
    weights = [(before, 1.0 - place.weight_after), (after, place.weight_after)]
    told = pace.bend(float(at[before]), float(at[after])) if view.series.timed else None
    bent = (told or 0.0) / 2.0 * float((at[before] - at[pair.long]) * (at[after] - at[pair.long]))
    bent = bent if abs(bent) > BENT_LEAST_STOPS else 0.0
    off_line = place.mean_stops + bent
    both = _held(view, pair.long, weights)
    if both is None:
        expected = sum(weight * float(level[index]) for index, weight in weights)
        drift = expected + off_line - float(level[pair.short])
        stops = _raised(pair.direct.stops, drift)
    else:
        stops = _raised(both.stops, off_line)
        share = place.weight_after if pair.short == before else place.weight_after - 1.0
        drift = change * share + off_line
    other = after if pair.short == before else before
    minutes = max(1e-6, view.minutes_between(before, after))
    per_minute = change / minutes if view.series.timed else None
    return replace(
        pair,
        stops=stops,
        drift_stops=drift,
        other=other,
        drift_stops_per_min=per_minute,
        drift_error_stops=_drift_error(
            view, pair.long, change, float(at[after] - at[before]), None if told is None else bent
        ),
    )


def _drift_error(
    view: SetupView, long: int, change: float, span_s: float, bent: float | None = None
) -> float:
    """Return what a drift told by frames before and after may be off by.

    Light that changes faster than daylight does went at once, nobody knows when; and the end of
    noise reduction may be what a stamp tells, which takes as long again. ``bent`` is by how much
    other frames tell that the light left the straight line.
    """
    sudden = abs(change) > LEVEL_ERROR_STOPS + FASTEST_STOPS_PER_S * span_s
    error = (SUDDEN_ERROR if sudden else BEND_ERROR) * abs(change)
    if bent is not None and not sudden:
        error = BENT_ERROR * (abs(change) + abs(bent))
    if view.setup.shots[long].facts.exposure.stamp_at_end:
        late_s = float(view.series.time_s[long])
        error = math.hypot(error, change * min(1.0, late_s / max(1.0, span_s)))
    return error


def _change(view: SetupView, before: int, after: int) -> float:
    """Return by how much the light rose from one unfiltered frame to another.

    A change within its own error is none: clouds and waves move where the light stands still.
    Where tiles agree no better than a level is known, waves are all that tells: two short frames
    show as much of them, so nothing else does, and their light is the mean of whole rows.
    """
    held = _held(view, after, [(before, 1.0)])
    if held is None:
        change = float(view.series.level_stops[after] - view.series.level_stops[before])
        return change if abs(change) > LEVEL_ERROR_STOPS else 0.0
    rows = core_of_rows(held.filled) if held.core.spread > LEVEL_ERROR_STOPS else None
    by_water = held.by_water or rows is not None
    fell = held.main if rows is None else rows.value
    error = LEVEL_ERROR_STOPS + 0.25 * held.uneven_stops + (WATER_SLACK if by_water else 0.0)
    return -fell if abs(fell) > error else 0.0


def _raised(stops: dict[str, float], by: float) -> dict[str, float]:
    return {name: value + by for name, value in stops.items()}


def _overlap(view: SetupView, short: int, long: int) -> float:
    recorded = view.levels.recorded
    return float((recorded[short] & recorded[long]).mean())


def _cost(view: SetupView, short: int, long: int) -> float:
    recorded = view.series.level_stops + view.levels.settings_stops
    placement = float(abs(recorded[long] - recorded[short]))
    unseen = 1.0 - _overlap(view, short, long)
    later = AFTERWARDS if short > long else 0.0
    graded = UNLIKE_GRADS if view.density(long, [(short, 1.0)]) is not None else 0.0
    apart = STOPS_PER_MINUTE_APART * view.minutes_between(short, long)
    return apart + PER_STOP_OF_PLACEMENT * placement + unseen + later + graded


def _held(view: SetupView, long: int, others: Sequence[tuple[int, float]]) -> Attenuation | None:
    frame = view.seen[long]
    told = [(view.seen[place], weight) for place, weight in others]
    known = [(seen, weight) for seen, weight in told if seen is not None]
    if frame is None or len(known) < len(told):
        return None
    return measure_attenuation(frame, known, view.density(long, others))
