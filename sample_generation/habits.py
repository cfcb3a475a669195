"""Three evenings of one photographer with habits: for what a history of shoots should tell.

True of all three: frames after sunset are placed 1.3 stops lower than those before it; the
six-stop filter holds back 0.3 stop more than its marking; the preview clips a stop before the
sensor. The files hold a position, for which the sunsets are right.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta, timezone
from functools import partial

import numpy as np

from sample_generation.coast import Dusk
from sample_generation.filters import NeutralFilter
from sample_generation.places import BOULDERS, LONE_STACK, POOLS, POSITION, STACKS
from sample_generation.plans import CAMERA_STYLE, MAIN_BODY, Photographer, Plan, filtered_time
from sample_generation.views import Composition

UNDER_AFTER_SUNSET_STOPS = 1.3
FILTER_OVER_MARKING_STOPS = 0.3
PREVIEW_EARLY_STOPS = 1.0
USUAL_HEADROOM_STOPS = 0.7
SUNSET_ALTITUDE_DEG = -0.83
"""The sun's centre at sunset: 50 minutes of arc under the level (almanac practice)."""

# When the sun's centre is level there, refraction left out (worked out once with ephem).
_LEVEL = (
    datetime(2024, 10, 3, 19, 10, 11),
    datetime(2024, 10, 11, 18, 50, 42),
    datetime(2024, 10, 19, 18, 31, 53),
)
_SINKING_DEG_PER_MIN = (0.146, 0.144, 0.141)

SIX_STOP = NeutralFilter.off_marking(6.0, 6.0 + FILTER_OVER_MARKING_STOPS, red=-0.10, blue=0.08)


def habit_evening(number: int, seed: int) -> Plan:
    """Plan one of the evenings, number 0 to 2: four places, the last two after sunset."""
    sinking = _SINKING_DEG_PER_MIN[number]
    dusk = Dusk(altitude_deg=3.0, sinking_deg_per_min=sinking)
    level = _LEVEL[number].replace(tzinfo=timezone(timedelta(hours=2)))
    style = replace(CAMERA_STYLE, early_stops=PREVIEW_EARLY_STOPS)
    hand = Photographer(
        level - timedelta(minutes=dusk.altitude_deg / sinking),
        dusk,
        seed * 10 + number,
        bodies=(replace(MAIN_BODY, style=style),),
        position=POSITION,
        first_number=1 + 100 * number,
    )
    rng = np.random.default_rng([seed, number, 7006])
    visits = zip((STACKS, BOULDERS, LONE_STACK, POOLS), (2.8, 1.0, -1.6, -3.0), strict=True)
    for place, altitude in visits:
        hand.wait_for_sun_at(altitude)
        _visit(hand, _elsewhere(place, rng))
    return hand.plan()


def _elsewhere(place: Composition, rng: np.random.Generator) -> Composition:
    """Make another piece of the same coast on a calm day, the sun out of the frame."""
    return replace(
        place,
        land=replace(place.land, seed=int(rng.integers(100, 100_000))),
        weather=replace(
            place.weather, seed=int(rng.integers(100, 100_000)), sun_u=-1.1, swell=0.25
        ),
    )


def _visit(hand: Photographer, place: Composition) -> None:
    """Take a blown first guess now and then, two short frames, and a filtered one between."""
    after_sunset = hand.dusk.altitude(hand.now_s) < SUNSET_ALTITUDE_DEG
    under = USUAL_HEADROOM_STOPS + (UNDER_AFTER_SUNSET_STOPS if after_sunset else 0.0)
    if not after_sunset:
        first = hand.meter(place, under - 3.0)
        hand.take(place, first, "blown", gap_s=10.0)
    short = hand.meter(place, under)
    hand.take(place, short, "short")
    hand.take(place, filtered_time(short, 6.0), "long", filters=(SIX_STOP,))
    hand.take(place, hand.meter(place, under), "short")


HABITS: dict[str, Callable[[int], Plan]] = {
    f"habit-{number + 1}": partial(habit_evening, number) for number in range(3)
}
