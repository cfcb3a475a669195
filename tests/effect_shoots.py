"""Shoots of three frames: a short one, a filtered one, and perhaps a short one again."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from tests.before_the_lens import in_shade
from tests.shoot_maker import Shoot
from tests.shoot_plans import SIX, Colours, coast
from tests.shoot_scene import Scene


def _red(stops_a_minute: float) -> Callable[[float], Colours]:
    """Light of which red falls less than green, and blue more."""
    return lambda t: (0.4 * stops_a_minute * t / 60.0, 0.0, -0.5 * stops_a_minute * t / 60.0)


def by_hand(seed: int, low: float, high: float) -> float:
    """How strong an effect is for a seed."""
    return float(np.random.default_rng(seed + 77).uniform(low, high))


def three(
    seed: int, *, nd: Colours = SIX, place: Scene | None = None, apart_s: float = 20.0,
    light: Callable[[float], float] = lambda _: 0.0, after: bool = True,
    reddens: float = 0.0, cools: bool = False,
    short: dict[str, Any] | None = None, long: dict[str, Any] | None = None,
    last: dict[str, Any] | None = None,
) -> Shoot:  # fmt: skip
    """A short frame, a filtered one, and perhaps a short one again, each as it is told.

    ``cools``: what the light loses it loses of the sun, and the colour of shade is left.
    """
    tint = clouded(seed, light) if cools else _red(reddens)
    shoot, place, short = Shoot(seed, light=light, tint=tint), place or coast(seed), short or {}
    filtered = {"time_s": 0.125 * 2.0 ** round(nd[1]), "nd": nd, **(long or {})}
    shoot.take(place, 0.0, **short)
    shoot.take(place, apart_s, **filtered)
    if after:
        shoot.take(place, 2 * apart_s + filtered["time_s"], **{**short, **(last or {})})
    return shoot


def clouded(seed: int, light: Callable[[float], float]) -> Callable[[float], Colours]:
    """Return the colour of light that loses stops of the sun to clouds."""
    return lambda t: in_shade(max(0.0, -light(t)), seed)
