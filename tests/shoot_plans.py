"""Invented shoots with one hard thing in each, and what is true of them."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from functools import cache, partial

import numpy as np

from auditor.group.grouping import group_shoot
from auditor.model.facts import CameraFacts
from auditor.model.grouping import Grouping
from auditor.model.settings import GroupSettings
from tests.shoot_maker import GradGlass, Shoot
from tests.shoot_scene import Scene

SEEDS = range(2)
SHOOT_SEEDS = range(3)
TEN = (10.1, 10.0, 9.93)
SIX = (6.12, 6.03, 5.97)
SECOND_BODY = CameraFacts("Brackwell", "Brackwell F24", "2002")

Colours = tuple[float, float, float]
"""Stops of a filter in red, green and blue."""


@dataclass(eq=False)
class Planned:
    """A shoot and its truth: frames by set-up, long frames with their filters, all else."""

    shoot: Shoot
    setups: list[set[str]] = field(default_factory=list)
    filters: dict[str, Colours] = field(default_factory=dict)
    shorts: dict[str, set[str]] = field(default_factory=dict)
    brackets: list[tuple[str, ...]] = field(default_factory=list)

    def together(self, *frames: str) -> None:
        self.setups.append(set(frames))

    def pair(self, long: str, nd: Colours, *shorts: str) -> None:
        self.filters[long] = nd
        self.shorts[long] = set(shorts)

    def grouped(self) -> Grouping:
        return group_shoot(self.shoot.frames, GroupSettings())


def by_colour(stops: Iterable[float]) -> Colours:
    red, green, blue = stops
    return red, green, blue


@cache
def coast(seed: int, other: int = 0) -> Scene:
    """Return a coast; ``other`` gives another place of the same kind."""
    return Scene.invent(
        seed + 1000 * other,
        shore_share=(0.4, 0.15, 0.25, 0.2)[seed % 4],
        cloud_stops=(0.1, 0.4, 0.25)[seed % 3],
    )


def shutter_for(light_stops: float, extra: float = 0.0) -> float:
    """Return the third-stop shutter time that keeps the picture as bright as at 1/8 s."""
    return float(2.0 ** (round((extra - 3.0 - light_stops) * 3.0) / 3.0))


def steady_pairs(seed: int) -> Planned:
    """Two places, both filters, a second try, a short frame after."""
    made = Planned(Shoot(seed))
    for place, start in ((coast(seed), 0.0), (coast(seed, 1), 600.0)):
        take = made.shoot.take
        short = take(place, start)
        ten = take(place, start + 20, 128.0, nd=TEN)
        again = take(place, start + 160, 160.0, nd=TEN)
        six = take(place, start + 340, 8.0, nd=SIX)
        last = take(place, start + 370)
        made.together(short, ten, again, six, last)
        for long, nd in ((ten, TEN), (again, TEN), (six, SIX)):
            made.pair(long, nd, short, last)
    return made


def same_settings(seed: int) -> Planned:
    """Another composition with the same settings within a minute, and back again."""
    made = Planned(Shoot(seed))
    take, here, there = made.shoot.take, coast(seed), coast(seed, 1)
    short = take(here, 0.0)
    decoy = take(there, 12.0)
    long = take(here, 24.0, 8.0, nd=SIX)
    made.together(short, long)
    made.together(decoy, take(there, 45.0, 2.0))
    made.pair(long, SIX, short)
    return made


def two_bodies(seed: int) -> Planned:
    """Two bodies in turn at two places, with clocks of their own."""
    made = Planned(Shoot(seed))
    take, here, there = made.shoot.take, coast(seed), coast(seed, 1)

    def second(number: int, at_s: float, time_s: float = 0.125, **more: object) -> str:
        name = f"DCIM/200BRACK/F24_{number:04d}.DNG"
        return take(there, at_s, time_s, camera=SECOND_BODY, name=name, **more)  # type: ignore[arg-type]

    a = [take(here, 0.0)]
    b = [second(1, 5.0)]
    a.append(take(here, 12.0, 8.0, nd=SIX))
    b.append(second(2, 15.0, 128.0, nd=TEN))
    a.append(take(here, 30.0))
    b.append(second(3, 160.0))
    made.together(*a)
    made.together(*b)
    made.pair(a[1], SIX, a[0], a[2])
    made.pair(b[1], TEN, b[0], b[2])
    return made


def knocked(seed: int) -> Planned:
    """The tripod knocked between a short frame and its sibling, by parts of tiles."""
    rng = np.random.default_rng(seed)
    made = Planned(Shoot(seed))
    place, shift = coast(seed), (float(rng.uniform(0.3, 2.5)), float(rng.uniform(-1.5, -0.3)))
    short = made.shoot.take(place, 0.0)
    long = made.shoot.take(place, 20.0, 8.0, nd=SIX, shift=shift)
    made.together(short, long)
    made.pair(long, SIX, short)
    return made


def stacked(seed: int) -> Planned:
    """Two filters at once: a ten and a six."""
    made = Planned(Shoot(seed))
    place, both = coast(seed), by_colour(a + b for a, b in zip(SIX, TEN, strict=True))
    short = made.shoot.take(place, 0.0, 1 / 60)
    long = made.shoot.take(place, 30.0, 480.0, f_number=8.0, nd=both)
    made.together(short, long)
    made.pair(long, both, short)
    return made


def partly_lost(seed: int, stops: float) -> Planned:
    """A filtered frame that is blown (stops > 0) or blocked (stops < 0) in part."""
    made = Planned(Shoot(seed))
    place = coast(seed)
    short = made.shoot.take(place, 0.0)
    long = made.shoot.take(place, 20.0, 8.0 * 2.0**stops, nd=SIX)
    made.together(short, long)
    made.pair(long, SIX, short)
    return made


def light_falls_a_stop(seed: int) -> Planned:
    """Short frames on both sides of a long one while the light falls by a stop."""
    made = Planned(Shoot(seed, light=lambda at_s: -at_s / 300.0))
    place, take = coast(seed), made.shoot.take
    before = take(place, 0.0)
    long = take(place, 30.0, 240.0, nd=TEN)
    after = take(place, 300.0, 0.25)
    made.together(before, long, after)
    made.pair(long, TEN, before, after)
    return made


DUSKS: dict[str, Callable[[float], float]] = {
    "even": lambda at_s: -0.1 * at_s / 60.0,
    "fast": lambda at_s: -0.25 * at_s / 60.0,
    "ever faster": lambda at_s: -7.0 * (at_s / 3600.0) ** 2,
    "levelling off": lambda at_s: -10.0 / (1.0 + math.exp(-(at_s - 1800.0) / 400.0)),
    "dawn": lambda at_s: 0.2 * at_s / 60.0 - 8.0,
}


def dusk(seed: int, light: Callable[[float], float]) -> Planned:
    """Longer and longer frames of one place for an hour, without a filter."""
    rng = np.random.default_rng(seed)
    made = Planned(Shoot(seed, light=light))
    place, at_s, frames = coast(seed), 0.0, []
    while at_s < 3600.0:
        frames.append(made.shoot.take(place, at_s, min(480.0, shutter_for(light(at_s)))))
        at_s += float(rng.uniform(60.0, 900.0))
    made.together(*frames)
    return made


def dusk_with_filters(seed: int) -> Planned:
    """Dusk for most of an hour on one place, now and then a filter."""
    rng = np.random.default_rng(seed)

    def light(at_s: float) -> float:
        return -0.15 * at_s / 60.0

    made = Planned(Shoot(seed, light=light))
    place, at_s, shorts, longs = coast(seed), 0.0, [], []
    while at_s < 3000.0:
        shorts.append(made.shoot.take(place, at_s, shutter_for(light(at_s))))
        strength = float(rng.choice([3.0, 6.0, 10.0]))
        nd = by_colour(float(v) for v in strength + rng.normal(0.0, 0.12, 3))
        time_s = min(300.0, shutter_for(light(at_s), strength))
        longs.append((made.shoot.take(place, at_s + 30.0, time_s, nd=nd), nd))
        at_s += 50.0 + time_s
        shorts.append(made.shoot.take(place, at_s, shutter_for(light(at_s))))
        at_s += float(rng.uniform(60.0, 600.0))
    made.together(*shorts, *(long for long, _ in longs))
    for long, nd in longs:
        made.pair(long, nd, *shorts)
    return made


def a_lot_at_once(seed: int) -> Planned:
    """A whole evening: pairs, a bracket, a grad, a dark frame, a pan, a return in the dusk."""
    made = Planned(Shoot(seed, light=lambda at_s: -at_s / 600.0))
    take = made.shoot.take
    here, there, view = coast(seed), coast(seed, 1), coast(seed, 2)
    first, ten = take(here, 0.0), take(here, 20.0, 128.0, nd=TEN)
    six, last = take(here, 200.0, 8.0, nd=SIX), take(here, 240.0)
    made.together(first, ten, six, last)
    made.pair(ten, TEN, first, last)
    made.pair(six, SIX, first, last)
    take(None, 250.0, 8.0)
    short, long = take(there, 300.0), take(there, 360.0, 128.0, nd=TEN, shift=(2.0, 0.5))
    after, graded = take(there, 550.0), take(there, 560.0, grad=GradGlass(3.0, 0.4, 0.15))
    steps = enumerate((0, -2, 2, -4, 4))
    bracket = tuple(take(there, 600.0 + i, 2.0 ** (step - 3)) for i, step in steps)
    made.together(short, long, after, graded, *bracket)
    made.pair(long, TEN, short, after)
    made.brackets.append(bracket)
    for turn in range(5):
        made.together(take(view, 1300.0 + 6 * turn, pan=0.35 * turn))
    made.together(*(take(here, 3900.0 + 600 * k, 2.0 ** (k - 1)) for k in range(4)))
    return made


PLANS: dict[str, Callable[[int], Planned]] = {
    "steady pairs": steady_pairs,
    "same settings": same_settings,
    "two bodies": two_bodies,
    "knocked": knocked,
    "stacked": stacked,
    "blown in part": lambda seed: partly_lost(seed, 2.5),
    "blocked in part": lambda seed: partly_lost(seed, -5.0),
    "light falls a stop": light_falls_a_stop,
    "dusk with filters": dusk_with_filters,
    "a lot at once": a_lot_at_once,
    **{f"dusk, {name}": partial(dusk, light=light) for name, light in DUSKS.items()},
}
