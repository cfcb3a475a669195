"""Small shoots, each with one thing in it that a grouping or pairing may get wrong.

Every one is varied by its seed: the coast, the clouds, the sun, the filters' true densities.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime, timedelta, timezone

import numpy as np

from sample_generation.coast import Dusk
from sample_generation.filters import GraduatedFilter, NeutralFilter
from sample_generation.places import BAY, BOULDERS, LONE_STACK, POOLS, STACKS
from sample_generation.plans import (
    MAIN_BODY,
    SECOND_BODY,
    Photographer,
    Plan,
    filtered_time,
    several,
    third_near,
)
from sample_generation.views import Composition

STEADY = Dusk(altitude_deg=0.6, sinking_deg_per_min=0.0)
"""Light that does not change while the shoot lasts."""

FALLING = Dusk(altitude_deg=-1.0)


@dataclass(frozen=True, slots=True)
class Kit:
    """What one seed makes of the decoys: places, filters and a photographer."""

    hand: Photographer
    places: tuple[Composition, ...]
    six: NeutralFilter
    ten: NeutralFilter
    three: NeutralFilter
    grad: GraduatedFilter

    def pair(self, place: Composition, filter_: NeutralFilter, short_s: float) -> None:
        """Take a short frame and its filtered sibling, by the marking."""
        self.hand.take(place, short_s, "short")
        long = filtered_time(short_s, filter_.marked_stops)
        self.hand.take(place, long, "long", filters=(filter_,))


def kit(seed: int, dusk: Dusk) -> Kit:
    """Vary everything by a seed."""
    rng = np.random.default_rng([seed, 7003])
    start = datetime(2024, 9, 20, 19, 5, 0, tzinfo=timezone(timedelta(hours=2)))
    hand = Photographer(
        start + timedelta(seconds=int(rng.integers(0, 1200))),
        dusk,
        seed,
        bodies=(MAIN_BODY, SECOND_BODY),
    )
    order = rng.permutation(4)
    places = tuple(_varied((STACKS, BOULDERS, LONE_STACK, POOLS)[n], rng) for n in order)
    return Kit(
        hand,
        places,
        six=_off(6.0, rng),
        ten=_off(10.0, rng),
        three=_off(3.0, rng),
        grad=GraduatedFilter(
            float(rng.uniform(1.8, 3.4)), float(rng.uniform(0.3, 0.5)), float(rng.uniform(0.1, 0.3))
        ),
    )


def _off(marked: float, rng: np.random.Generator) -> NeutralFilter:
    """Make a filter up to a third of a stop off its marking, with a cast either way."""
    true = marked + float(rng.uniform(-0.33, 0.33))
    red, blue = (float(value) for value in rng.uniform(-0.15, 0.15, 2))
    return NeutralFilter.off_marking(marked, true, red=red, blue=blue)


def _varied(place: Composition, rng: np.random.Generator) -> Composition:
    """Make another coast of the same kind."""
    land = replace(place.land, seed=int(rng.integers(100, 100_000)))
    weather = replace(
        place.weather,
        seed=int(rng.integers(100, 100_000)),
        sun_u=place.weather.sun_u + float(rng.uniform(-0.15, 0.15)),
        cover=float(rng.uniform(0.4, 0.65)),
    )
    return replace(place, land=land, weather=weather, centre_u=float(rng.uniform(-0.05, 0.05)))


def pairs(seed: int) -> Plan:
    """Take pairs in steady light: three places, both filters, a second try each."""
    made = kit(seed, STEADY)
    for place in made.places[:3]:
        short = made.hand.meter(place, 1.2)
        made.pair(place, made.six, short)
        again = third_near(filtered_time(short, 6.0) * 1.26)
        made.hand.take(place, again, "long", "second try", filters=(made.six,))
        made.pair(place, made.ten, short)
        made.hand.wait(240.0)
    return made.hand.plan()


def same_settings(seed: int) -> Plan:
    """Take two places within a minute of each other with the same settings."""
    made = kit(seed, STEADY)
    here, there = made.places[:2]
    short = made.hand.meter(here, 1.5)
    made.hand.take(here, short, "short", gap_s=12.0)
    made.hand.take(there, short, "decoy", gap_s=12.0)
    made.hand.take(here, filtered_time(short, 6.0), "long", filters=(made.six,), gap_s=12.0)
    made.hand.take(there, filtered_time(short, 4.0), "decoy", gap_s=12.0)
    return made.hand.plan()


def dusk_falling(seed: int) -> Plan:
    """Take longer and longer frames of one place for an hour, without a filter."""
    made = kit(seed, FALLING)
    place = made.places[0]
    for _ in range(8):
        made.hand.take(place, made.hand.meter(place, 1.3, f_number=4.0), "dusk", f_number=4.0)
        made.hand.wait(420.0)
    return made.hand.plan()


def two_bodies(seed: int) -> Plan:
    """Take two places with two bodies in turn, one pair each."""
    made = kit(seed, STEADY)
    here, there = made.places[:2]
    first, second = made.hand.meter(here, 1.2), made.hand.meter(there, 1.2)
    made.hand.take(here, first, "short", gap_s=6.0)
    made.hand.take(there, second, "short", body=1, gap_s=6.0)
    made.hand.take(here, filtered_time(first, 6.0), "long", filters=(made.six,), gap_s=6.0)
    long = filtered_time(second, 10.0)
    made.hand.take(there, long, "long", filters=(made.ten,), body=1, gap_s=6.0)
    made.hand.take(here, first, "short", gap_s=6.0)
    made.hand.take(there, second, "short", body=1, gap_s=6.0)
    return made.hand.plan()


def knocked(seed: int) -> Plan:
    """Knock the tripod between a short frame and its sibling."""
    made = kit(seed, STEADY)
    rng = np.random.default_rng([seed, 7004])
    for place in made.places[:2]:
        right, down = (int(value) for value in rng.integers(3, 11, 2) * rng.choice((-1, 1), 2))
        short = made.hand.meter(place, 1.2)
        made.hand.take(place, short, "short")
        made.hand.take(
            place,
            filtered_time(short, 6.0),
            "long",
            "knocked",
            filters=(made.six,),
            shift_px=(float(right), float(down)),
        )
        made.hand.wait(200.0)
    return made.hand.plan()


def stacked(seed: int) -> Plan:
    """Stack two filters."""
    made = kit(seed, STEADY)
    place = made.places[0]
    short = made.hand.meter(place, 1.2)
    made.hand.take(place, short, "short")
    both = (made.six, made.three)
    made.hand.take(place, filtered_time(short, 9.0), "long", "stacked", filters=both)
    made.hand.take(place, filtered_time(short, 6.0), "long", filters=(made.six,))
    return made.hand.plan()


def partly_lost(seed: int) -> Plan:
    """Blow a part of one filtered frame, block a part of another."""
    made = kit(seed, STEADY)
    for place in made.places[:2]:
        short = made.hand.meter(place, 1.0)
        made.hand.take(place, short, "short")
        over = third_near(filtered_time(short, 6.0) * 2**2.5)
        made.hand.take(place, over, "long", "partly blown", filters=(made.six,))
        under = third_near(filtered_time(short, 10.0) * 2**-6)
        made.hand.take(place, under, "long", "partly blocked", filters=(made.ten,))
        made.hand.wait(200.0)
    return made.hand.plan()


def light_moving(seed: int) -> Plan:
    """Take short frames on both sides of a long one while the light falls by a stop."""
    made = kit(seed, replace(STEADY, drift_stops_per_min=-0.30))
    for place in made.places[:2]:
        short = made.hand.meter(place, 1.0, f_number=16.0)
        made.hand.take(place, short, "short", f_number=16.0)
        long = filtered_time(short, 10.0)
        made.hand.take(place, long, "long", filters=(made.ten,), f_number=16.0)
        last = made.hand.meter(place, 1.0, f_number=16.0)
        made.hand.take(place, last, "short", f_number=16.0)
    return made.hand.plan()


def grads(seed: int) -> Plan:
    """Take a pair without and with a graduated filter at two places."""
    made = kit(seed, STEADY)
    for place in made.places[:2]:
        time = made.hand.meter(place, 1.3)
        without = made.hand.take(place, time, "short", "without grad")
        with_ = made.hand.take(place, third_near(time * 2.0), "with grad", grad=made.grad)
        made.hand.grads.append((without, with_))
        made.hand.wait(200.0)
    return made.hand.plan()


def brackets(seed: int) -> Plan:
    """Take a bracket of five, one of three in another order, and a lone frame between."""
    made = kit(seed, STEADY)
    first, second = made.places[:2]
    made.hand.bracket(first, made.hand.meter(first, 1.8), (0, -1, 1, -2, 2))
    made.hand.take(first, made.hand.meter(first, 1.0), "short", gap_s=120.0)
    made.hand.bracket(second, made.hand.meter(second, 1.8), (-2, 0, 2))
    return made.hand.plan()


def panned(seed: int) -> Plan:
    """Pan across the bay twice, the second time with one exposure changed."""
    made = kit(seed, STEADY)
    rng = np.random.default_rng([seed, 7005])
    wide = replace(BAY, land=replace(BAY.land, seed=int(rng.integers(100, 100_000))))
    time = made.hand.meter(wide, 1.6)
    for changed in (1.0, 2.0 ** (2 / 3)):
        views = several(wide, 4, 0.4)
        times = (time, time, third_near(time * changed), time)
        names = [
            made.hand.take(view, each, "panned", gap_s=5.0)
            for view, each in zip(views, times, strict=True)
        ]
        made.hand.runs.append(tuple(names))
        made.hand.wait(600.0)
    return made.hand.plan()


def sensitivities(seed: int) -> Plan:
    """Take one blown and one held frame at each of several ISO settings, thirds between."""
    made = kit(seed, STEADY)
    place = made.places[0]
    for iso in (100.0, 125.0, 160.0, 200.0, 800.0, 1600.0):
        held = made.hand.meter(place, 1.2, iso=iso)
        made.hand.take(place, third_near(held * 2**3), "blown", iso=iso)
        made.hand.take(place, held, "short", iso=iso)
    return made.hand.plan()


DECOYS: dict[str, Callable[[int], Plan]] = {
    "pairs": pairs,
    "decoy-settings": same_settings,
    "decoy-dusk": dusk_falling,
    "decoy-bodies": two_bodies,
    "decoy-knock": knocked,
    "decoy-stacked": stacked,
    "decoy-lost": partly_lost,
    "decoy-drift": light_moving,
    "grads": grads,
    "brackets": brackets,
    "panned": panned,
    "sensitivities": sensitivities,
}
