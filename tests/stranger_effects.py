"""Stranger things that happen to a pair: looked at once before any limit knew them."""

from __future__ import annotations

from collections.abc import Callable
from functools import reduce

import numpy as np
from scipy import ndimage

from auditor.model.arrays import F32
from tests.before_the_lens import (
    Change,
    brightened,
    daylight,
    flare,
    fog,
    held,
    in_the_corner,
    patch,
    places,
    polarised,
    spray,
    sunlit,
)
from tests.effect_shoots import by_hand, three
from tests.shoot_maker import GradGlass, Shoot
from tests.shoot_plans import SIX, TEN, Colours
from tests.shoot_scene import texture


def one_after_another(*changes: Change) -> Change:
    """Apply several changes in order."""
    return lambda signal: reduce(lambda so_far, change: change(so_far), changes, signal)


def half_in(share: float) -> Change:
    """The six-stop filter covers only so much of the width; beyond it nothing holds back."""

    def change(signal: F32) -> F32:
        beyond = 1.0 / (1.0 + np.exp((share - places(signal)[1]) / 0.03))
        return np.asarray(signal * (1.0 + beyond * (2.0 ** SIX[1] - 1.0)), dtype=np.float32)

    return change


def from_the_finder(share: float) -> Change:
    """Light that came in by the eyepiece: a broad band across the lower middle."""

    def change(signal: F32) -> F32:
        (y, x), even = places(signal), np.median(signal, axis=(1, 2), keepdims=True)
        glow = np.exp(-(((y - 0.6) / 0.15) ** 2) - ((x - 0.5) / 0.4) ** 2)
        return np.asarray(signal + share * even * glow, dtype=np.float32)

    return change


def banded_by_lamps(stops: float) -> Change:
    """Rows read one after the other under lamps that flicker."""
    return lambda signal: held(signal, stops * np.sin(places(signal)[0] * 40.0))


def smoke(stops: float, seed: int) -> Change:
    """Smoke that drifts through, brown: it holds back blue more than red."""

    def change(signal: F32) -> F32:
        y, _ = places(signal)
        rng = np.random.default_rng(seed + 61)
        thick = np.clip(texture(rng, y.shape, (8.0, 16.0), "wrap") + 0.3, 0.0, 2.0)
        return held(signal, stops * thick * np.array([0.7, 1.0, 1.5])[:, None, None])

    return change


def flakes(stops: float, seed: int) -> Change:
    """Snowflakes near the lens, white and out of focus."""

    def change(signal: F32) -> F32:
        y, _ = places(signal)
        rng = np.random.default_rng(seed + 62)
        near = ndimage.gaussian_filter((rng.random(y.shape) < 0.01).astype(np.float32), 1.0)
        return held(signal, -stops * np.clip(near / 0.1, 0.0, 1.0))

    return change


def rained_on(stops: float) -> Change:
    """Rain has darkened all ground near the camera."""
    return lambda signal: held(signal, stops * (places(signal)[0] > 0.6))


def person(x: float) -> Change:
    """Somebody in dark clothes stands on the shore."""

    def change(signal: F32) -> F32:
        y, right = places(signal)
        return held(signal, 2.5 * ((np.abs(right - x) < 0.03) & (y > 0.45) & (y < 0.8)))

    return change


def tinted_corners(stops: float) -> Change:
    """Glass that is thicker aslant: corners darker, and red more so than blue."""

    def change(signal: F32) -> F32:
        (y, x), (rows, cols) = places(signal), signal.shape[1:]
        far = (((y - 0.5) * rows) ** 2 + ((x - 0.5) * cols) ** 2) * 4.0 / (rows**2 + cols**2)
        return held(signal, stops * far * np.array([1.6, 1.0, 0.6])[:, None, None])

    return change


def swayed(tiles: int) -> Change:
    """Grass in the wind: what is near lies elsewhere."""

    def change(signal: F32) -> F32:
        near = places(signal)[0] > 0.7
        return np.where(near, np.roll(signal, tiles, axis=2), signal).astype(np.float32)

    return change


def warmed_up(signal_dn: float) -> Change:
    """Dark current of a long exposure that the black level does not hold."""
    return lambda signal: np.asarray(signal + signal_dn, dtype=np.float32)


def glowing(corner_dn: float) -> Change:
    """An amplifier that glows at the right edge of long exposures."""

    def change(signal: F32) -> F32:
        return np.asarray(signal + corner_dn * np.exp((places(signal)[1] - 1.0) / 0.1), np.float32)

    return change


def afterglow(stops: float) -> Change:
    """The sky reddens and brightens while the ground darkens."""

    def change(signal: F32) -> F32:
        y, _ = places(signal)
        return brightened(
            held(signal, np.where(y > 0.42, 0.3 * stops, 0.0)),
            np.where(y < 0.42, stops, 0.0),
            daylight(-80.0),
        )

    return change


def _moon(seed: int) -> Shoot:
    """A moonlit night: what faces the moon changes slowly, near the noise floor."""

    def turned(share: float) -> Change:
        first, later = sunlit(2.0, seed), sunlit(2.0, seed + 1)
        return lambda signal: (1.0 - share) * first(signal) + np.float32(share) * later(signal)

    return three(
        seed,
        apart_s=60.0,
        short={"time_s": 4.0, "gain_stops": -8.0, "through": turned(0.0)},
        long={"time_s": 256.0, "gain_stops": -8.0, "through": turned(0.04)},
        last={"through": turned(0.08)},
    )


def _setting_sun(seed: int) -> Shoot:
    """The sun goes down behind a ridge, bit by bit."""
    return three(
        seed,
        short={"through": sunlit(by_hand(seed, 0.5, 2.0), seed)},
        long={"through": sunlit(by_hand(seed, 0.2, 0.5), seed)},
        last={"through": sunlit(0.05, seed)},
    )


def _flicker(seed: int) -> Shoot:
    """An aperture that closes a little differently each time."""
    off = np.random.default_rng(seed + 63).normal(0.0, 0.05, 3)
    kept = ({"gain_stops": float(one)} for one in off)
    short, long, last = kept
    return three(seed, short=short, long=long, last=last)


STRANGER: dict[str, tuple[Colours, Callable[[int], Shoot]]] = {
    "a filter half-way in its holder": (
        SIX, lambda s: three(s, long={"through": half_in(by_hand(s, 0.5, 0.9))})),
    "light by the viewfinder": (
        TEN, lambda s: three(s, nd=TEN, long={"through": from_the_finder(by_hand(s, 0.1, 0.8))})),
    "a wet filter dries": (
        SIX, lambda s: three(s, long={"through": one_after_another(spray(s), fog(0.04))})),
    "the tripod shakes": (
        SIX, lambda s: three(s, long={"blur": 0.25, "shift": (0.25, 0.1)})),
    "lamps flicker over the rows of fast short frames": (
        SIX, lambda s: three(s, short={"time_s": 1 / 512, "gain_stops": 6.0,
                                       "through": banded_by_lamps(by_hand(s, 0.1, 0.5))},
                             long={"time_s": 1 / 8, "gain_stops": 6.0})),
    "the moon moves": (SIX, _moon),
    "an aperture that flickers by 0.05 stop": (SIX, _flicker),
    "smoke drifts through": (
        SIX, lambda s: three(s, long={"through": smoke(by_hand(s, 0.1, 0.5), s)},
                             after=s % 2 == 0)),
    "snow falls": (
        SIX, lambda s: three(s, short={"through": flakes(by_hand(s, 0.5, 2.0), s)},
                             long={"through": fog(by_hand(s, 0.02, 0.08))},
                             last={"through": flakes(by_hand(s, 0.5, 2.0), s + 1)})),
    "rain wets the ground": (
        SIX, lambda s: three(s, long={"through": rained_on(by_hand(s, 0.3, 0.8))},
                             last={"through": rained_on(by_hand(s, 0.4, 0.9))})),
    "somebody walks along the shore": (
        SIX, lambda s: three(s, short={"through": person(0.3)}, last={"through": person(0.7)},
                             after=s % 2 == 0)),
    "a polariser on all, turned": (
        SIX, lambda s: three(s, short={"through": polarised(1.5, 0.9)},
                             long={"through": polarised(1.5, by_hand(s, 0.0, 0.6))})),
    "corners darker and redder": (
        SIX, lambda s: three(s, long={"through": tinted_corners(by_hand(s, 0.2, 0.8))})),
    "the filter put on a moment late": (
        SIX, lambda s: three(s, long={"gain_stops": by_hand(s, 0.05, 0.6)})),
    "two graduated filters, one over the other": (
        SIX, lambda s: three(s, long={"grad": GradGlass(2.0, 0.42, 0.1), "time_s": 32.0,
                                      "through": lambda signal: held(
                                          signal, GradGlass(1.0, 0.3, 0.2).density(
                                              signal.shape[1])[None, :, None])})),
    "breath on the lens before": (
        SIX, lambda s: three(s, short={"through": fog(by_hand(s, 0.05, 0.3))},
                             last={"through": fog(0.0)})),
    "ghosts of the sun in the filter": (
        SIX, lambda s: three(s, long={"through": one_after_another(
            *(patch(1.5, x, 0.9 - x, 0.04) for x in (0.2, 0.35, 0.6, 0.7)), flare(0.02))})),
    "the sun goes down behind a ridge": (SIX, _setting_sun),
    "grass sways": (SIX, lambda s: three(s, long={"through": swayed(1 + s % 3)})),
    "a lens correction was switched on between": (
        SIX, lambda s: three(s, long={"through": tinted_corners(-by_hand(s, 0.3, 1.0))},
                             after=False)),
    "dark current at night": (
        SIX, lambda s: three(s, short={"gain_stops": -5.0},
                             long={"gain_stops": -5.0,
                                   "through": warmed_up(by_hand(s, 0.2, 2.0))})),
    "an amplifier glows at night": (
        SIX, lambda s: three(s, short={"gain_stops": -4.0},
                             long={"gain_stops": -4.0,
                                   "through": glowing(by_hand(s, 5.0, 60.0))})),
    "the sky glows after sunset": (
        SIX, lambda s: three(s, long={"through": afterglow(by_hand(s, 0.1, 0.5))},
                             last={"through": afterglow(by_hand(s, 0.2, 0.9))})),
    "light in at a corner and a filter off its marking": (
        (9.7, 9.64, 9.6), lambda s: three(s, nd=(9.7, 9.64, 9.6),
                                          long={"through": in_the_corner(by_hand(s, 0.1, 0.6))})),
}  # fmt: skip
"""What happened, with the filter that is true of it."""
