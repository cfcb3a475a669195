"""How far a pair's figure is believed: the chance that it lies within a tenth of a stop.

Doubts are what speaks against it, each with what it says; the chance is worked out from the
standard errors of all that is in the figure, and from what no error describes: clouds, an edge
that is not seen, light that nothing tells. Its limits were fitted on simulated pairs of many kinds
and hold on others (the docs show stated against found).
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from auditor.group.limits import (
    BASE_ERROR_STOPS,
    CAST_UNEVEN_STOPS,
    CLOUD_STOPS,
    CLOUD_TRUST,
    CORNER_ERROR,
    EVER_TRUST,
    GRAD_ERROR_STOPS,
    GRAD_SHORT_TRUST,
    LIKE_ANOTHER_TRUST,
    MOST_STEADY,
    OFF_WHOLE_BOTH_TRUST,
    OFF_WHOLE_STOPS,
    OFF_WHOLE_TRUST,
    ONE_SIDE_TRUST,
    SCATTERED_ERROR,
    SCATTERED_TRUST,
    SKY_TRUST,
    STEADY_LOSS,
    TONE_STOPS,
    TONE_TRUST,
    UNEVEN_ERROR,
    UNEVEN_TRUST,
    UNTOLD_STOPS_PER_MINUTE,
    WATER_ERROR_STOPS,
    WEAK_STOPS,
    WEAK_TRUST,
    WITHIN_STOPS,
)
from auditor.group.pairing import PairMeasurement, is_uneven, may_be_polariser
from auditor.group.view import SetupView
from auditor.model.remark import Doubt, PairDoubt


def confidence(view: SetupView, pair: PairMeasurement, *, known: bool = False) -> float:
    """Return the chance that the figure lies within a tenth of a stop.

    Parameters
    ----------
    view : SetupView
    pair : PairMeasurement
    known : bool
        Whether it is that of a filter that earlier shoots know, or another set-up measured.
    """
    held, drift = pair.direct, pair.drift_stops
    error = math.hypot(
        BASE_ERROR_STOPS,
        pair.drift_error_stops,
        held.core.spread / math.sqrt(max(1.0, held.core.count / 10.0)),
        UNEVEN_ERROR * held.uneven_stops,
        WATER_ERROR_STOPS if held.by_water else 0.0,
        CORNER_ERROR * held.corner_stops,
        GRAD_ERROR_STOPS if view.density(pair.long, [(pair.short, 1.0)]) is not None else 0.0,
        SCATTERED_ERROR * held.scattered_stops,
    )
    chance = _within(error)
    if drift is None:
        minutes = view.minutes_between(pair.short, pair.long)
        adrift = _within(math.hypot(error, UNTOLD_STOPS_PER_MINUTE * minutes))
        steady = max(0.0, MOST_STEADY - STEADY_LOSS * abs(_off_whole(view, pair)))
        chance = steady * chance + (1.0 - steady) * adrift
    trust = [most_believed(doubt.code) for doubt in doubts(view, pair, known=known)]
    if not known and abs(_off_whole(view, pair)) > OFF_WHOLE_STOPS:
        trust.append(float(OFF_WHOLE_TRUST if drift is None else OFF_WHOLE_BOTH_TRUST))
    no_jump = min(1.0, (1.0 - pair.jump_chance) / EVER_TRUST)
    return min(1.0, held.core.count / 150.0) * min([EVER_TRUST, *trust]) * no_jump * chance


def most_believed(code: Doubt) -> float:
    """Return the most that is believed of a pair with a doubt."""
    trust = {
        Doubt.ONE_SIDE: ONE_SIDE_TRUST,
        Doubt.WEAK: WEAK_TRUST,
        Doubt.CLOUD: CLOUD_TRUST,
        Doubt.UNEVEN: UNEVEN_TRUST,
        Doubt.POLARISER: UNEVEN_TRUST,
        Doubt.SKY_ALONE: SKY_TRUST,
        Doubt.SKY_HELD_MORE: SKY_TRUST,
        Doubt.SCATTERED: SCATTERED_TRUST,
        Doubt.BY_TONE: TONE_TRUST,
        Doubt.LIKE_ANOTHER: LIKE_ANOTHER_TRUST,
        Doubt.GRAD_SHORT_ONLY: GRAD_SHORT_TRUST,
        Doubt.NO_APERTURE: SKY_TRUST,
    }
    return trust.get(code, 1.0)


def _within(error_stops: float) -> float:
    return math.erf(WITHIN_STOPS / (error_stops * math.sqrt(2.0)))


def _off_whole(view: SetupView, pair: PairMeasurement) -> float:
    stops = pair.stops[view.main]
    return stops - round(stops)


def doubts(view: SetupView, pair: PairMeasurement, *, known: bool = False) -> Iterator[PairDoubt]:
    """Yield what speaks against the figure of a pair."""
    held, off_whole, one_side = pair.direct, _off_whole(view, pair), pair.drift_stops is None
    weak = pair.stops[view.main] < (WEAK_STOPS if pair.other is None else CLOUD_STOPS)
    exposures = [view.setup.shots[place].facts.exposure for place in (pair.short, pair.long)]
    no_aperture = any(exposure.f_number is None for exposure in exposures)
    graded = {grad.with_ for grad in view.grads} & {pair.short, pair.long}
    told = (
        (held.sky_more_stops > 0, Doubt.SKY_HELD_MORE, held.sky_more_stops),
        (held.sky_alone, Doubt.SKY_ALONE, 0.0),
        (held.by_water, Doubt.WATER, 0.0),
        (held.corner_stops != 0, Doubt.CORNERS, held.corner_stops),
        (is_uneven(view, pair), Doubt.UNEVEN, held.uneven_stops),
        (may_be_polariser(view, pair), Doubt.POLARISER, held.colour_uneven_stops),
        (one_side, Doubt.ONE_SIDE, pair.reddened_stops),
        (
            held.colour_uneven_stops > CAST_UNEVEN_STOPS,
            Doubt.COLOURS_UNEVEN,
            held.colour_uneven_stops,
        ),
        (not known and abs(off_whole) > OFF_WHOLE_STOPS, Doubt.NO_WHOLE_STOPS, off_whole),
        (weak and not known, Doubt.CLOUD if pair.other is not None else Doubt.WEAK, 0.0),
        (held.scattered_stops > 0, Doubt.SCATTERED, held.scattered_stops),
        (not known and pair.like_another_stops != 0, Doubt.LIKE_ANOTHER, pair.like_another_stops),
        (pair.jump_chance > 2.0 * (1.0 - EVER_TRUST), Doubt.LIGHT_JUMPS, 0.0),
        (graded == {pair.short}, Doubt.GRAD_SHORT_ONLY, 0.0),
        (held.by_tone_stops > TONE_STOPS, Doubt.BY_TONE, held.by_tone_stops),
        (no_aperture, Doubt.NO_APERTURE, 0.0),
    )
    for met, code, value in told:
        if met:
            yield PairDoubt(code=code, value=round(value, 2))
