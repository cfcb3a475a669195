"""How far a pair's figure is believed: the chance that it lies within a tenth of a stop.

Doubts are what speaks against it, each with what it says; the chance is worked out from the
standard errors of all that is in the figure, and from what no error describes: clouds, an edge
that is not seen, light that nothing tells. Its limits were fitted on simulated pairs of many kinds
and hold on others (the docs show stated against found).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from datetime import timedelta

import numpy as np

from auditor.group.drift import Scatter
from auditor.group.known import of_daylight
from auditor.group.limits import (
    APERTURE_TRUST,
    BASE_ERROR_STOPS,
    CAST_TOLERANCE_STOPS,
    CAST_UNEVEN_STOPS,
    CLOUD_STOPS,
    CLOUD_STOPS_PER_MINUTE,
    CLOUD_TRUST,
    CORNER_ERROR,
    COUNTED_ERROR_S,
    DAYLIGHT_CAST_STOPS,
    DAYLIGHT_NEAR_STOPS,
    DAYLIGHT_TRUST,
    EVER_TRUST,
    EXTENDED_ISO,
    EXTENDED_TRUST,
    FAST_ERROR_STOPS,
    FAST_SHUTTER_S,
    GRAD_ERROR_STOPS,
    GRAD_SHORT_TRUST,
    JUMP_BEFOREHAND,
    JUMPS_SUN_DOWN,
    LIKE_ANOTHER_TRUST,
    MOST_STEADY,
    NEAR_WHOLE_STOPS,
    ODD_GRAD_STOPS,
    OFF_WHOLE_BOTH_TRUST,
    OFF_WHOLE_STOPS,
    OFF_WHOLE_TRUST,
    OTHER_APERTURE_STOPS,
    SCATTER_STOPS,
    SCATTER_WEIGHT,
    SCATTERED_TRUST,
    SHORT_DARK_STOPS,
    SHORT_OPEN_S,
    SHORT_TRUST,
    SKY_TRUST,
    STEADY_LOSS,
    SUN_DOWN_DEG,
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
from auditor.group.shots import Shot
from auditor.group.view import SetupView
from auditor.light.exposure import scene_ev100
from auditor.light.nominal import dial_of
from auditor.light.sun import clear_sky_stops, sun_position
from auditor.model.remark import Doubt, PairDoubt

OVERHEAD_EV = 15.3
"""Exposure value at ISO 100 of 100,000 lx, ``log2(lx / 2.5)``: the constant of incident-light
meters (ISO 2720, C = 250)."""


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
    both = [view.setup.shots[place] for place in (pair.short, pair.long)]
    said = held.sky_more_stops < 0 or is_uneven(view, pair)
    error = math.hypot(
        *(_counted_stops(shot) for shot in both),
        _fast_stops(both),
        BASE_ERROR_STOPS,
        pair.drift_error_stops,
        held.core.spread / math.sqrt(max(1.0, held.core.count / 10.0)),
        # where it has a doubt of its own that says so already
        0.0 if said else UNEVEN_ERROR * held.uneven_stops,
        WATER_ERROR_STOPS if held.by_water else 0.0,
        CORNER_ERROR * held.corner_stops,
        GRAD_ERROR_STOPS if view.density(pair.long, [(pair.short, 1.0)]) is not None else 0.0,
    )
    chance = _within(error)
    sun_down, clear_sky = _by_the_sun(view, pair)
    if drift is None:
        minutes = view.minutes_between(pair.short, pair.long)
        untold = UNTOLD_STOPS_PER_MINUTE * minutes
        if clear_sky is not None:
            untold = math.hypot(clear_sky, CLOUD_STOPS_PER_MINUTE * minutes)
        adrift = _within(math.hypot(error, untold))
        steady = max(0.0, MOST_STEADY - STEADY_LOSS * abs(_off_whole(view, pair)))
        steady = steady if clear_sky is None else 0.0
        chance = steady * chance + (1.0 - steady) * adrift
    most = float(EVER_TRUST)
    if not known:
        least = OFF_WHOLE_BOTH_TRUST if drift is not None else OFF_WHOLE_TRUST
        off = _between(abs(_off_whole(view, pair)), NEAR_WHOLE_STOPS, OFF_WHOLE_STOPS)
        light = _between(abs(_bluer_stops(view, pair)), DAYLIGHT_NEAR_STOPS, DAYLIGHT_CAST_STOPS)
        # no whole stops and a cast of daylight speak for other light, each by itself
        most = (most - off * (most - least)) * (1.0 - light * (1.0 - DAYLIGHT_TRUST))
    most *= _kept(pair, known=known)
    trust = [most_believed(doubt.code) for doubt in doubts(view, pair, known=known)]
    jump_chance = pair.jump_chance * (JUMPS_SUN_DOWN if sun_down else 1.0)
    no_jump = min(1.0, (1.0 - jump_chance) / EVER_TRUST)
    return min(1.0, held.core.count / 150.0) * min([most, *trust]) * no_jump * chance


def _kept(pair: PairMeasurement, *, known: bool) -> float:
    """Return the chance that shutter and aperture kept what they were set to, near enough.

    Repeated frames tell how far exposures scatter, the more of them the better; before them what
    is usual, which no more counts where another measurement bears the pair out.
    """
    if known and pair.scatter is None:
        return 1.0
    stops, freedom = pair.scatter or Scatter(0.0, 0)
    squares = SCATTER_WEIGHT * SCATTER_STOPS**2 + freedom * stops**2
    of_one = math.sqrt(squares / (SCATTER_WEIGHT + freedom))
    # the filtered exposure, and an unfiltered one or the mean of two
    return _within(of_one * math.sqrt(2.0 if pair.other is None else 1.5))


def _counted_stops(shot: Shot) -> float:
    """Return what an exposure may be off by where its seconds were counted by hand."""
    told = shot.facts.exposure
    time_s = told.nominal_time_s or 0.0
    by_hand = told.program == "bulb" or (time_s > 0 and dial_of(time_s) is None)
    counted = by_hand and time_s >= 1.0 and time_s == round(time_s)
    return COUNTED_ERROR_S / time_s / math.log(2.0) if counted else 0.0


def _fast_stops(shots: Sequence[Shot]) -> float:
    """Return what the faster shutter may be off by, as mechanical ones near their fastest are."""
    fastest = min(shot.time_s for shot in shots)
    return float(FAST_ERROR_STOPS) if fastest < FAST_SHUTTER_S else 0.0


def _sun_heights_deg(view: SetupView, pair: PairMeasurement) -> list[float]:
    """Return the sun's height in the middle of both; none where a file tells no time or place."""
    shots = [view.setup.shots[place] for place in (pair.short, pair.long)]
    suns = [
        sun_position(shot.facts.opened + timedelta(seconds=shot.time_s / 2.0), shot.facts.position)
        for shot in shots
        if shot.facts.position is not None and shot.facts.opened is not None
    ]
    heights = [sun.altitude_deg for sun in suns if sun is not None]
    return heights if len(heights) == len(shots) else []


def _by_the_sun(view: SetupView, pair: PairMeasurement) -> tuple[bool, float | None]:
    """Return what the sun's height tells of the light, where the files tell time and place.

    Returns
    -------
    sun_down : bool
        No direct light was there to come or go.
    clear_sky_stops : float or None
        By how much the light of a clear sky changed between the middles of the two.
    """
    heights = _sun_heights_deg(view, pair)
    if not heights:
        return False, None
    stops = clear_sky_stops(heights[1]) - clear_sky_stops(heights[0])
    return max(heights) < -SUN_DOWN_DEG, abs(stops)


def _darker_stops(view: SetupView, pair: PairMeasurement) -> float | None:
    """Return by how much the short frame's scene is darker than a clear sky makes it, if told."""
    heights = _sun_heights_deg(view, pair)
    if not heights:
        return None
    shot = view.setup.shots[pair.short]
    image = shot.image
    bright = float(np.nanmedian(image.stops(image.main))) - math.log2(image.room_dn[image.main])
    scene = scene_ev100(2.0**bright, shot.facts.exposure)
    return None if scene is None else OVERHEAD_EV + clear_sky_stops(heights[0]) - scene


def most_believed(code: Doubt) -> float:
    """Return the most that is believed of a pair with a doubt."""
    trust = {
        Doubt.WEAK: WEAK_TRUST,
        Doubt.CLOUD: CLOUD_TRUST,
        Doubt.UNEVEN: UNEVEN_TRUST,
        Doubt.POLARISER: UNEVEN_TRUST,
        Doubt.SKY_ALONE: SKY_TRUST,
        Doubt.SKY_HELD_MORE: SKY_TRUST,
        Doubt.SKY_HELD_LESS: SKY_TRUST,
        Doubt.BY_TONE: TONE_TRUST,
        Doubt.LIKE_ANOTHER: LIKE_ANOTHER_TRUST,
        Doubt.GRAD_SHORT_ONLY: GRAD_SHORT_TRUST,
        Doubt.NO_APERTURE: SKY_TRUST,
        Doubt.SCATTERED: SCATTERED_TRUST,
        Doubt.ODD_GRAD: SKY_TRUST,
        Doubt.COLOURED_GRAD: SKY_TRUST,
        Doubt.SHORT_FILTERED: SHORT_TRUST,
        Doubt.OTHER_APERTURE: APERTURE_TRUST,
        Doubt.EXTENDED_ISO: EXTENDED_TRUST,
    }
    return trust.get(code, 1.0)


def _within(error_stops: float) -> float:
    """Return the chance to lie near enough, with an error."""
    return math.erf(WITHIN_STOPS / (error_stops * math.sqrt(2.0)))


def _between(value: float, near: float, far: float) -> float:
    """Return 0 up to near, 1 from far on."""
    return min(1.0, max(0.0, (value - near) / (far - near)))


def _bluer_stops(view: SetupView, pair: PairMeasurement) -> float:
    """Return by how much blue was held back less than green, if the cast may be daylight's own."""
    main = pair.stops[view.main]
    red, blue = (np.array([pair.stops.get(name, main) - main]) for name in "RB")
    own_cast = float(CAST_TOLERANCE_STOPS)  # what a filter that nothing is known of has besides
    return -float(blue[0]) if of_daylight(red, blue, own_cast)[0] else 0.0


def _off_whole(view: SetupView, pair: PairMeasurement) -> float:
    stops = pair.stops[view.main]
    return stops - round(stops)


def doubts(view: SetupView, pair: PairMeasurement, *, known: bool = False) -> Iterator[PairDoubt]:
    """Yield what speaks against the figure of a pair."""
    held, off_whole, one_side = pair.direct, _off_whole(view, pair), pair.drift_stops is None
    weak = pair.stops[view.main] < (WEAK_STOPS if pair.other is None else CLOUD_STOPS)
    short, long = (view.setup.shots[place] for place in (pair.short, pair.long))
    numbers = [told for one in (short, long) if (told := one.facts.exposure.true_f_number)]
    no_aperture = len(numbers) < 2
    opened = 0.0 if no_aperture else abs(2.0 * math.log2(numbers[0] / numbers[1]))
    isos = [told for one in (short, long) if (told := one.facts.exposure.true_iso)]
    apart = abs(math.log2(isos[0] / isos[1])) if len(isos) == 2 else 0.0
    extended = apart > 0 and min(isos) < EXTENDED_ISO
    graded = {grad.with_ for grad in view.grads} & {pair.short, pair.long}
    densest = [max(grad.profile_stops) for grad in view.grads if grad.with_ == pair.long]
    odd = max((abs(stops - round(stops)) for stops in densest), default=0.0)
    darker = _darker_stops(view, pair)
    unlit = short.time_s >= SHORT_OPEN_S if darker is None else darker > SHORT_DARK_STOPS
    bluer = _bluer_stops(view, pair)
    uneven = held.colour_uneven_stops > CAST_UNEVEN_STOPS
    fast = _fast_stops((short, long))
    counted = math.hypot(_counted_stops(short), _counted_stops(long))
    scatter = 0.0 if pair.scatter is None else pair.scatter.stops
    reasons = (
        (held.sky_more_stops > 0, Doubt.SKY_HELD_MORE, held.sky_more_stops),
        (held.sky_more_stops < 0, Doubt.SKY_HELD_LESS, -held.sky_more_stops),
        (held.sky_alone, Doubt.SKY_ALONE, 0.0),
        (held.by_water, Doubt.WATER, 0.0),
        (held.corner_stops != 0, Doubt.CORNERS, held.corner_stops),
        (is_uneven(view, pair), Doubt.UNEVEN, held.uneven_stops),
        (may_be_polariser(view, pair), Doubt.POLARISER, held.colour_uneven_stops),
        (one_side, Doubt.ONE_SIDE, pair.reddened_stops),
        (uneven, Doubt.COLOURS_UNEVEN, held.colour_uneven_stops),
        (not known and abs(off_whole) > OFF_WHOLE_STOPS, Doubt.NO_WHOLE_STOPS, off_whole),
        (weak and not known, Doubt.CLOUD if pair.other is not None else Doubt.WEAK, 0.0),
        (held.scattered_stops > 0, Doubt.SCATTERED, held.scattered_stops),
        (not known and pair.like_another_stops != 0, Doubt.LIKE_ANOTHER, pair.like_another_stops),
        (not known and abs(bluer) > DAYLIGHT_NEAR_STOPS, Doubt.DAYLIGHT_CAST, bluer),
        (pair.jump_chance > JUMP_BEFOREHAND, Doubt.LIGHT_JUMPS, 0.0),
        (graded == {pair.short}, Doubt.GRAD_SHORT_ONLY, 0.0),
        (held.by_tone_stops > TONE_STOPS, Doubt.BY_TONE, held.by_tone_stops),
        (no_aperture, Doubt.NO_APERTURE, 0.0),
        (extended, Doubt.EXTENDED_ISO, apart),
        (opened > OTHER_APERTURE_STOPS, Doubt.OTHER_APERTURE, opened),
        (unlit and not known, Doubt.SHORT_FILTERED, darker or 0.0),
        (counted > BASE_ERROR_STOPS, Doubt.COUNTED, counted),
        (fast > 0, Doubt.FAST_SHUTTER, fast),
        (scatter > SCATTER_STOPS, Doubt.EXPOSURES_SCATTER, scatter),
        (graded == {pair.long} and odd > ODD_GRAD_STOPS, Doubt.ODD_GRAD, odd),
        (graded == {pair.long} and uneven, Doubt.COLOURED_GRAD, held.colour_uneven_stops),
    )
    for met, code, value in reasons:
        if met:
            yield PairDoubt(code=code, value=round(value, 2))
