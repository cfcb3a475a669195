"""The demo: one evening at Selmer Sands, with everything on its card that a card can hold."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta, timezone
from typing import Any

from sample_generation.coast import Dusk
from sample_generation.filters import GraduatedFilter, NeutralFilter
from sample_generation.places import (
    BAY,
    BOULDERS,
    BURNING_SKY,
    LONE_STACK,
    POOLS,
    POSITION,
    STACKS,
)
from sample_generation.plans import Photographer, Plan, filtered_time, several, third_near

SUMMER_TIME = timezone(timedelta(hours=2))
SUNSET = datetime(2024, 10, 3, 19, 10, 11, tzinfo=SUMMER_TIME)
"""The sun's centre on the level there, refraction left out (worked out once with ephem)."""

SIX_STOP = NeutralFilter.off_marking(6.0, 6.2, red=-0.12, blue=0.10)
TEN_STOP = NeutralFilter.off_marking(10.0, 9.7, red=0.10, blue=-0.08)
SOFT_GRAD = GraduatedFilter(3.0, 0.36, 0.22)


def evening(seed: int) -> Plan:
    """Plan the evening: forty-odd frames from the sun 3 degrees high to 5 under the horizon."""
    dusk = Dusk(altitude_deg=3.0)
    before = dusk.altitude_deg / dusk.sinking_deg_per_min
    hand = Photographer(SUNSET - timedelta(minutes=before), dusk, seed, position=POSITION)
    _stacks(hand)
    _boulders(hand)
    _detail(hand)
    _pools(hand)
    _bay(hand)
    _burning_sky(hand)
    _dusk(hand)
    return hand.plan()


def _stacks(hand: Photographer) -> None:
    """Take a bracket, then short and filtered frames with a second try."""
    middle = hand.meter(STACKS, 2.2, share=0.01)
    hand.bracket(STACKS, middle, (0, -1, 1, -2, 2))
    short = hand.meter(STACKS, 2.0, share=0.01)
    hand.take(STACKS, short, "short", copy=True)
    hand.take(STACKS, filtered_time(short, 6.0), "long", filters=(SIX_STOP,), gap_s=45.0)
    first_try = filtered_time(short, 8.7)
    hand.take(STACKS, first_try, "long", "first try", filters=(TEN_STOP,))
    hand.take(STACKS, filtered_time(short, 10.0), "long", "second try", filters=(TEN_STOP,))
    hand.take(STACKS, hand.meter(STACKS, 2.0, share=0.01), "short", gap_s=150.0)


def _boulders(hand: Photographer) -> None:
    """Blown by mistake, put right, and a graduated filter for the bright sky."""
    hand.wait_for_sun_at(1.7)
    good = hand.meter(BOULDERS, 1.2)
    hand.take(BOULDERS, third_near(good * 2**3.3), "blown", gap_s=12.0)
    without = hand.take(BOULDERS, good, "short", "without grad", jpeg=True)
    with_ = hand.take(BOULDERS, third_near(good * 2.0), "with grad", grad=SOFT_GRAD)
    hand.grads.append((without, with_))
    long = filtered_time(good, 6.0)
    hand.take(BOULDERS, long, "long", filters=(SIX_STOP,))
    hand.take(BOULDERS, hand.meter(BOULDERS, 1.2), "short", gap_s=90.0)


def _detail(hand: Photographer) -> None:
    """Frame the stacks again, closer."""
    closer = replace(
        STACKS, name="stacks, closer", field_of_view=0.51, centre_u=0.03, horizon_at=0.62
    )
    hand.wait_for_sun_at(0.6)
    short = hand.meter(closer, 1.6, share=0.01)
    hand.take(closer, short, "short")
    hand.take(closer, filtered_time(short, 10.0), "long", filters=(TEN_STOP,))
    hand.take(closer, hand.meter(closer, 1.6, share=0.01), "short", gap_s=120.0)


def _pools(hand: Photographer) -> None:
    """Upright, into the afterglow: a wide bracket and both filters."""
    hand.wait_for_sun_at(-0.5)
    middle = hand.meter(POOLS, 2.2, portrait=True)
    hand.bracket(POOLS, middle, (0, -2, 2, -4, 4), orientation=8)
    short = hand.meter(POOLS, 1.3, portrait=True)
    hand.take(POOLS, short, "short", orientation=8, copy=True)
    for each in (SIX_STOP, TEN_STOP):
        time = filtered_time(short, each.marked_stops)
        hand.take(POOLS, time, "long", filters=(each,), orientation=8)
    last = hand.meter(POOLS, 1.3, portrait=True)
    hand.take(POOLS, last, "short", orientation=8, gap_s=100.0)


def _bay(hand: Photographer) -> None:
    """Four frames panned across the bay, the last one a third of a stop longer."""
    time = hand.meter(BAY, 1.4)
    views = several(BAY, 4, 0.36)
    times = (time, time, time, third_near(time * 2 ** (1 / 3)))
    names = [
        hand.take(view, each, "panned", gap_s=5.0) for view, each in zip(views, times, strict=True)
    ]
    hand.runs.append(tuple(names))
    hand.wait(100.0)


def _burning_sky(hand: Photographer) -> None:
    """Red lost while green holds; then too dark altogether; then right."""
    hand.wait_for_sun_at(-2.3)
    red = hand.meter(BURNING_SKY, 0.0, share=0.012, channel=0)
    hand.take(BURNING_SKY, red, "one channel blown", gap_s=15.0)
    hand.take(BURNING_SKY, third_near(red * 2**-9.0), "blocked", gap_s=15.0)
    right = hand.meter(BURNING_SKY, 0.9)
    hand.take(BURNING_SKY, right, "short", jpeg=True)
    hand.take(BURNING_SKY, filtered_time(right, 6.0), "long", filters=(SIX_STOP,))
    hand.take(BURNING_SKY, hand.meter(BURNING_SKY, 0.9), "short", gap_s=120.0)


def _dusk(hand: Photographer) -> None:
    """Take no filter, only darker and darker; one filtered frame; cap on; a card pulled."""
    hand.wait_for_sun_at(-3.2)
    wide_open: dict[str, Any] = {"f_number": 8.0}
    for _ in range(5):
        time = hand.meter(LONE_STACK, 1.5, f_number=8.0)
        hand.take(LONE_STACK, time, "dusk", "short", gap_s=80.0, **wide_open)
    last = hand.meter(LONE_STACK, 1.5, f_number=8.0)
    long = filtered_time(last, 6.0)
    hand.take(LONE_STACK, long, "long", filters=(SIX_STOP,), gap_s=10.0, **wide_open)
    after = hand.meter(LONE_STACK, 1.5, f_number=8.0)
    hand.take(LONE_STACK, after, "dusk", "short", **wide_open)
    hand.take(LONE_STACK, long, "dark frame", cap_on=True, **wide_open)
    last = hand.meter(LONE_STACK, 1.5, f_number=8.0)
    hand.take(LONE_STACK, last, "cut off", kept_share=0.55, **wide_open)
