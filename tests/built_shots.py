"""The plan of an invented evening: which frame is taken when, with what, and why."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime, timedelta, timezone

from sample_generation.facts import nominal_time

PLUS_ONE = timezone(timedelta(hours=1))
START = datetime(2031, 9, 14, 18, 52, 7, 250000, tzinfo=PLUS_ONE)
F_NUMBER, ISO = 11.0, 100.0


@dataclass(frozen=True)
class Plan:
    """One place in the evening's cycle of 24 frames."""

    role: str
    scene: int
    placement: float
    filter_stops: float = 0.0
    cast: tuple[float, float, float] = (0.0, 0.0, 0.0)
    grad: float = 0.0
    turned: bool = False


SIX = (6.18, (0.05, 0.0, -0.12))
TEN = (10.31, (-0.22, 0.0, 0.16))
CYCLE = (
    *(Plan("bracket", 0, step) for step in (0.0, -2.0, -1.0, 1.0, 2.0)),
    Plan("short", 1, 0.2),
    Plan("long", 1, -0.9, *SIX),
    Plan("long", 1, 0.1, *SIX),
    Plan("short", 1, 1.3),
    Plan("short", 2, -0.1, turned=True),
    Plan("long", 2, 1.2, *TEN, turned=True),
    Plan("long", 2, -0.2, *TEN, turned=True),
    Plan("plain", 3, 0.6),
    Plan("grad", 3, 0.6, grad=2.9),
    *(Plan("pan", 4 + i, 0.1 * i) for i in range(4)),
    Plan("dark", 8, 0.0),
    Plan("red only", 9, -0.4, cast=(-1.9, 0.0, 0.4)),
    Plan("blocked", 10, -6.4),
    Plan("blown", 11, 2.4),
    Plan("copy", 12, 0.0),
    Plan("unreadable", 13, 0.0),
)


def nominal_s(time_s: float) -> float:
    """The marked time nearest to a true one; over 32 s the true one, in tenths of a second."""
    above, below = nominal_time(time_s)
    return above / below


@dataclass(frozen=True)
class Shot:
    """A plan at its moment: the light then, and the shutter that follows."""

    index: int
    plan: Plan
    cycle: int
    taken: datetime
    scene_ev: float
    sun_deg: float
    time_s: float

    @property
    def scene(self) -> int:
        return self.plan.scene + 3 * (self.cycle % 2)


def shots(count: int) -> list[Shot]:
    """Spread ``count`` shots over an evening whose light falls from EV 12 to EV 3."""
    span_s = max(75 * 60.0, 12.0 * count)
    return [_shot(index, count, span_s) for index in range(count)]


def _shot(index: int, count: int, span_s: float) -> Shot:
    plan = CYCLE[index % len(CYCLE)]
    progress = index / max(1, count - 1)
    scene_ev = 12.2 - 1.6 * progress - 6.4 * progress**2.4
    ev = scene_ev - plan.filter_stops - plan.placement
    exact = F_NUMBER**2 / 2.0**ev
    time_s = 2.0 ** (round(3 * math.log2(exact)) / 3)
    taken = START + timedelta(seconds=span_s * progress)
    return Shot(index, plan, index // len(CYCLE), taken, scene_ev, 7.5 - 14.0 * progress, time_s)
