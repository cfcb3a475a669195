"""What makes pairs hard: shoots of a few frames with one hard thing in each, and its truth."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from tests.before_the_lens import (
    HEADLIGHTS,
    LIGHTNING,
    NORTHERN_LIGHTS,
    SUN,
    aslant,
    boat,
    car_lights,
    corners,
    cross,
    flare,
    flash,
    fog,
    fog_bank,
    from_the_side,
    frost,
    half_shade,
    haze,
    in_the_corner,
    infrared,
    lamps,
    leak,
    lit,
    lit_below,
    lowered,
    mist,
    patch,
    polarised,
    reverse,
    shadow,
    spray,
    strokes,
    sunlit,
    upside_down,
    water_from,
    wet,
)
from tests.effect_shoots import by_hand, clouded, three
from tests.shoot_maker import GradGlass, Shoot
from tests.shoot_plans import SIX, TEN, Colours, by_colour, coast, partly_lost, stacked
from tests.shoot_scene import Scene
from tests.stranger_effects import STRANGER

NONE, THREE = (0.0, 0.0, 0.0), (3.05, 3.0, 2.98)
NINE = by_colour(a + b for a, b in zip(SIX, THREE, strict=True))


def _pair(
    seed: int, place: Scene, nd: Colours, *, light: Callable[[float], float] = lambda _: 0.0,
    apart_s: float = 20.0, after: bool = True, grad: GradGlass | None = None,
    sky_less_ground: float = 0.0, shift: tuple[float, float] = (0.0, 0.0),
) -> Shoot:  # fmt: skip
    """A short frame, a filtered one, and perhaps a short one again."""
    shoot, long_s = Shoot(seed, light=light), 0.125 * 2.0 ** round(nd[1])
    shoot.take(place, 0.0)
    shoot.take(place, apart_s, long_s, nd=nd, grad=grad, sky_less_ground=sky_less_ground,
               shift=shift)  # fmt: skip
    if after:
        shoot.take(place, 2 * apart_s + long_s)
    return shoot


def _sea(seed: int, *, bare: bool = False) -> Scene:
    shore = (0.0, 0.12, 0.3)[seed % 3]
    return Scene.invent(seed, shore_share=shore, cloud_stops=0.4, wave_stops=0.6, bare=bare)


def _glass(seed: int) -> GradGlass:
    return (GradGlass(2.0, 0.42, 0.06), GradGlass(3.0, 0.42, 0.15), GradGlass(2.0, 0.42, 0.3),
            GradGlass(3.0, 0.5, 0.3))[seed % 4]  # fmt: skip


def _reversed(seed: int) -> Shoot:
    shoot = Shoot(seed)
    shoot.take(coast(seed), 0.0, 8.0, nd=SIX)
    shoot.take(coast(seed), 30.0)
    return shoot


def _broken_clouds(seed: int, of_pair: Callable[[float], float]) -> Shoot:
    """A pair in the midst of an evening whose light jumps by 1.4 stops, minute by minute."""
    shaded = np.random.default_rng(seed + 77).random(40) < 0.5

    def light(t: float) -> float:
        return of_pair(t) if 990.0 < t < 1100.0 else -1.4 * float(shaded[int(t // 60.0) % 40])

    shoot = Shoot(seed, light=light, tint=clouded(seed, light))
    for number in range(8):
        shoot.take(coast(seed, 1), 60.0 * number + 5.0)
    shoot.take(coast(seed), 1000.0)
    shoot.take(coast(seed), 1020.0, 8.0, nd=SIX)
    shoot.take(coast(seed), 1048.0)
    for number in range(8):
        shoot.take(coast(seed, 1), 60.0 * number + 1205.0)
    return shoot


def _third_in_shade(seed: int) -> Shoot:
    """Three places with one filter; the sun goes in by nearly a whole stop for the last."""

    def light(t: float) -> float:
        return -by_hand(seed, 0.9, 1.1) * (2010.0 < t < 2035.0)

    shoot = Shoot(seed, light=light, tint=clouded(seed, light))
    for number in range(3):
        at_s = 1000.0 * number
        shoot.take(coast(seed, number), at_s)
        shoot.take(coast(seed, number), at_s + 20.0, 8.0, nd=SIX)
        shoot.take(coast(seed, number), at_s + 48.0)
    return shoot


def _ever_faster(seed: int) -> Shoot:
    """Unfiltered frames of other places tell how the light bends about the pair."""
    shoot = Shoot(seed, light=lambda t: -by_hand(seed, 0.1, 0.5) * (max(0.0, t) / 300.0) ** 2)
    for number in range(4):
        shoot.take(coast(seed, 1), 60.0 * number)
    shoot.take(coast(seed), 300.0)
    shoot.take(coast(seed), 320.0, 128.0, nd=TEN)
    for at_s in (470.0, 560.0):
        shoot.take(coast(seed), at_s)
    return shoot


def _repeated(seed: int, flicker_stops: float) -> Shoot:
    """Five unfiltered frames, a filtered one, two unfiltered; each exposure is off by chance."""
    shoot, rng = Shoot(seed, light=lambda t: -0.05 * t / 60.0), np.random.default_rng(seed + 64)
    off = rng.normal(0.0, flicker_stops, 8)
    for number in range(5):
        shoot.take(coast(seed), 6.0 * number, gain_stops=float(off[number]))
    shoot.take(coast(seed), 40.0, 8.0, nd=SIX, gain_stops=float(off[5]))
    for number in (6, 7):
        shoot.take(coast(seed), 60.0 + 6.0 * (number - 6), gain_stops=float(off[number]))
    return shoot


UNSEEN = (
    "a shutter 0.2 stop off",
    "the filter put on a moment late",
    "an aperture that flickers by 0.05 stop",
    "seven unfiltered frames, an aperture that flickers by 0.1 stop",
)
"""What no pair can tell: counted in the most that is believed of one alone."""

ON_ANOTHER = (
    "a weaker filter swapped for a stronger one",
    "a stronger filter between two filtered frames",
)
"""Where the short frame has a filter too, and what is measured is the difference."""

EFFECTS: dict[str, tuple[Colours, Callable[[int], Shoot]]] = {
    "steady light, unfiltered frames before and after": (SIX, lambda s: _pair(s, coast(s), SIX)),
    "ten stops, before and after": (TEN, lambda s: _pair(s, coast(s), TEN)),
    "an unfiltered frame on one side only": (SIX, lambda s: _pair(s, coast(s), SIX, after=False)),
    "with a graduated filter, over a moving sea": (
        SIX, lambda s: _pair(s, _sea(s), SIX, grad=_glass(s))),
    "a graduated filter over a moving sea, one side only": (
        SIX, lambda s: _pair(s, _sea(s), SIX, grad=_glass(s), after=False)),
    "a graduated filter, nothing but sky and water": (
        SIX, lambda s: _pair(s, _sea(s, bare=True), SIX, grad=_glass(s))),
    "the sky dimmed by itself": (
        SIX, lambda s: _pair(s, coast(s), SIX, sky_less_ground=-1.5, after=False)),
    "light falling by 0.2 stop a minute, before and after": (
        TEN, lambda s: _pair(s, coast(s), TEN, light=lambda t: -0.2 * t / 60.0)),
    "falling light, one side only": (
        TEN, lambda s: _pair(s, coast(s), TEN, light=lambda t: -0.2 * t / 60.0, after=False)),
    "light falling by 0.1 stop a minute, two minutes apart, one side only": (
        SIX, lambda s: _pair(s, coast(s), SIX, light=lambda t: -0.1 * t / 60.0, apart_s=120.0,
                             after=False)),
    "the sun went in by 0.7 to 1.9 stops, one side only": (
        SIX, lambda s: three(s, light=lambda t: -by_hand(s, 0.7, 1.9) * (t > 10.0), cools=True,
                         after=False)),
    "the sun went in by 0.6 stop, one side only": (
        SIX, lambda s: three(s, light=lambda t: -0.6 * (t > 10.0), cools=True, after=False)),
    "the tripod knocked": (SIX, lambda s: _pair(s, coast(s), SIX, shift=(1.6, -0.7))),
    "two filters stacked": (
        (SIX[0] + TEN[0], SIX[1] + TEN[1], SIX[2] + TEN[2]), lambda s: stacked(s).shoot),
    "blown in part": (SIX, lambda s: partly_lost(s, 2.5).shoot),
    "blocked in part": (SIX, lambda s: partly_lost(s, -5.0).shoot),
    "a filter off its marking, before and after": (
        (6.5, 6.4, 6.36), lambda s: three(s, nd=(6.5, 6.4, 6.36), long={"time_s": 8.0})),
    "a filter off its marking, one side only": (
        (9.7, 9.64, 9.6), lambda s: three(s, nd=(9.7, 9.64, 9.6), after=False)),
    "a filter a sixth off its marking": (
        (6.27, 6.18, 6.12), lambda s: three(s, nd=(6.27, 6.18, 6.12))),
    "a filter as blue as shade": (
        (6.2, 6.0, 5.72), lambda s: three(s, nd=(6.2, 6.0, 5.72), after=s % 2 == 0)),
    "a brown filter": (
        (9.85, 10.02, 10.3), lambda s: three(s, nd=(9.85, 10.02, 10.3), after=s % 2 == 0)),
    "a green filter": (
        (6.2, 6.0, 6.15), lambda s: three(s, nd=(6.2, 6.0, 6.15), after=s % 2 == 0)),
    "a neutral filter": ((3.01, 3.0, 2.99), lambda s: three(s, nd=(3.01, 3.0, 2.99))),
    "the long frame first": (SIX, _reversed),
    ON_ANOTHER[0]: (
        NINE, lambda s: three(s, nd=NINE, short={"nd": SIX, "time_s": 8.0}, after=False)),
    "red leaks through the filter": ((9.2, 10.0, 9.9), lambda s: three(s, nd=(9.2, 10.0, 9.9))),
    "the sun in for the filtered frame only": (
        SIX, lambda s: three(s, light=lambda t: -by_hand(s, 0.3, 2.0) * (10.0 < t < 35.0),
                              cools=True)),
    "the sun in for the filtered frame, on ground in light and shade": (
        SIX, lambda s: three(s, short={"through": sunlit(by_hand(s, 0.8, 4.0), s, sky_stops=0.5)})),
    "the sun out for the filtered frame only": (
        SIX, lambda s: three(s, long={"through": sunlit(by_hand(s, 0.8, 4.0), s)})),
    "broken clouds all evening, the sun in for the filtered frame": (
        SIX, lambda s: _broken_clouds(s, lambda t: -1.4 * (1010.0 < t < 1035.0))),
    "broken clouds all evening, but not for the pair": (
        SIX, lambda s: _broken_clouds(s, lambda t: 0.0)),
    "the sun in for a filter that was used twice before": (SIX, _third_in_shade),
    "the sun went in for good while it was open": (
        SIX, lambda s: three(s, light=lambda t: -by_hand(s, 0.3, 2.0) * (t > 18.0 + s % 4 * 4.0),
                              cools=True)),
    "the sun set behind a cloud, no filter at all": (
        NONE, lambda s: three(s, nd=NONE, light=lambda t: -3.0 * (t > 10.0), cools=True,
                               after=s % 2 == 0,
                               long={"time_s": 1.0}, last={"time_s": 1.0})),
    "a cloud for the longer frame only, no filter at all": (
        NONE, lambda s: three(s, nd=NONE, light=lambda t: -(1.0 + s % 2) * (10.0 < t < 35.0),
                               cools=True,
                               long={"time_s": 0.25 * 2.0 ** (s % 2)})),
    "a filter of two stops, before and after": (
        (2.04, 2.0, 1.97), lambda s: three(s, nd=(2.04, 2.0, 1.97))),
    "fog coming in, one side only": (
        SIX, lambda s: three(s, long={"through": fog(by_hand(s, 0.03, 0.3))}, after=False)),
    "fog coming in, before and after": (
        SIX, lambda s: three(s, long={"through": fog(by_hand(s, 0.03, 0.2))},
                              last={"through": fog(by_hand(s, 0.06, 0.4))})),
    "a patch of sun moved on": (
        SIX, lambda s: three(s, long={"through": patch(1.2, by_hand(s, 0.2, 0.8))},
                              short={"through": patch(1.2, 0.4)})),
    "shadows of clouds sweep over the ground": (
        SIX, lambda s: three(s, short={"through": shadow(1.2, 0.2)},
                              long={"through": shadow(1.2, by_hand(s, 0.3, 0.8))},
                              last={"through": shadow(1.2, 1.0)})),
    "the cross of a variable filter": (
        SIX, lambda s: three(s, long={"through": cross(by_hand(s, 0.3, 1.5))}, after=s % 2 == 0)),
    "corners dark behind thick glass": (
        SIX, lambda s: three(s, long={"through": corners(by_hand(s, 0.2, 1.0))})),
    "corners dark in the short frame, wide open": (
        SIX, lambda s: three(s, short={"through": corners(by_hand(s, 0.3, 1.2)), "f_number": 2.8,
                                        "time_s": 1 / 128})),
    "stopped down and ISO raised between": (
        SIX, lambda s: three(s, long={"f_number": 16.0, "iso": 400.0, "time_s": 4.0})),
    "scattered light in the filter": (
        SIX, lambda s: three(s, long={"through": flare(by_hand(s, 0.01, 0.12))})),
    "light gets in behind the filter": (
        TEN, lambda s: three(s, nd=TEN, long={"through": leak(by_hand(s, 0.1, 1.0))}, after=False)),
    "a polariser turned between the two": (
        SIX, lambda s: three(s, short={"through": polarised(1.5, 0.0)},
                              long={"through": polarised(1.5, by_hand(s, 0.3, 0.9))}, after=False)),
    "a graduated filter on both": (
        SIX, lambda s: three(s, short={"grad": _glass(s)}, long={"grad": _glass(s)})),
    "a graduated filter on the short frames only": (
        SIX, lambda s: three(s, short={"grad": _glass(s)})),
    "the zoom nudged, or the camera turned by 2°": (
        SIX, lambda s: three(s, long={"zoom": 1.02} if s % 2 else {"turn_deg": 2.0})),
    "a boat passes": (
        SIX, lambda s: three(s, short={"through": boat(0.3)}, last={"through": boat(0.6)})),
    "no aperture in the files, and it was changed": (
        NONE, lambda s: three(s, nd=NONE, after=s % 2 == 0,
                               short={"f_number": None},
                               long={"f_number": None, "time_s": 2.0, "gain_stops": -4.0})),
    "no aperture in the files": (
        SIX, lambda s: three(s, after=s % 2 == 0, short={"f_number": None},
                              long={"f_number": None})),
    "the clock jumped by an hour": (
        SIX, lambda s: three(s, long={"clock_s": 3620.0}, last={"clock_s": 3650.0})),
    "stamped when noise reduction was done, falling light": (
        TEN, lambda s: three(s, nd=TEN, light=lambda t: -0.1 * t / 60.0, apart_s=140.0,
                              long={"clock_s": 140.0 + 256.0})),
    "at night, near the noise floor": (
        SIX, lambda s: three(s, short={"gain_stops": -5.0}, long={"gain_stops": -5.0},
                              after=s % 2 == 0)),
    "light that falls and reddens, before and after": (
        TEN, lambda s: three(s, nd=TEN, light=lambda t: -by_hand(s, 0.05, 0.25) * t / 60.0,
                              reddens=by_hand(s, 0.05, 0.25))),
    "light that falls ever faster, before and after": (
        TEN, lambda s: three(s, nd=TEN, light=lambda t: -by_hand(s, 0.1, 0.5) * (t / 130.0) ** 2)),
    "light that falls ever faster, more frames around": (TEN, _ever_faster),
    "the wind moved the camera for the long frame": (
        SIX, lambda s: three(s, long={"shift": (0.6, 0.3), "blur": 0.4})),
    "a wave wetted the foreground": (
        SIX, lambda s: three(s, long={"through": wet(0.8, s)}, last={"through": wet(0.5, s)})),
    "haze over the far shore": (
        SIX, lambda s: three(s, long={"through": haze(by_hand(s, 0.1, 0.5))})),
    "the lens hood off for the filter": (SIX, lambda s: three(s, long={"through": flare(0.05)})),
    "a graduated filter upside down": (
        SIX, lambda s: three(s, long={"through": upside_down(_glass(s)), "time_s": 16.0})),
    "a graduated filter on all, slid by a twentieth": (
        SIX, lambda s: three(s, short={"grad": GradGlass(3.0, 0.42, 0.15)},
                              long={"grad": GradGlass(3.0, 0.47, 0.15)})),
    "a reverse graduated filter besides": (
        SIX, lambda s: three(s, long={"through": reverse(3.0), "time_s": 16.0})),
    "a graduated filter aslant": (
        SIX, lambda s: three(s, long={"through": aslant(2.0), "time_s": 16.0})),
    "two graduated filters crossed": (
        SIX, lambda s: three(s, long={"through": from_the_side(2.0), "time_s": 16.0,
                                       "grad": GradGlass(2.0, 0.42, 0.15)})),
    "spray on the filter": (SIX, lambda s: three(s, long={"through": spray(s)})),
    "headlights on the ground": (
        SIX, lambda s: three(s, long={"through": patch(2.5, 0.5, 0.8, 0.15, HEADLIGHTS)})),
    "a sunbeam on the ground": (
        SIX, lambda s: three(s, long={"through": patch(1.5, 0.3, 0.65, 0.35)})),
    "the moon rose": (
        SIX, lambda s: three(s, long={"through": patch(4.0, 0.7, 0.2, 0.02)},
                              last={"through": patch(4.0, 0.72, 0.18, 0.02)})),
    "focus breathes between the two": (SIX, lambda s: three(s, long={"zoom": 1.01, "blur": 0.5})),
    "a polariser on the filter": (
        by_colour(stops + 1.5 for stops in SIX),
        lambda s: three(s, long={"through": polarised(1.5, by_hand(s, 0.2, 1.0)), "time_s": 16.0})),
    "fog on the glass": (TEN, lambda s: three(s, nd=TEN, long={"through": fog(0.15)})),
    "the tide came in": (
        SIX, lambda s: three(s, long={"through": water_from(0.7)},
                              last={"through": water_from(0.6)})),
    "a torch on a rock": (
        SIX, lambda s: three(s, long={"through": patch(5.0, 0.4, 0.8, 0.06, HEADLIGHTS)})),
    "a torch goes over the foreground": (
        SIX, lambda s: three(s, long={"through": strokes(by_hand(s, 0.5, 2.0), s)})),
    "light gets in at a corner behind the filter": (
        TEN, lambda s: three(s, nd=TEN, long={"through": in_the_corner(by_hand(s, 0.1, 1.0))})),
    "leaves that shine in infrared light": (
        SIX, lambda s: three(s, long={"through": infrared(by_hand(s, 0.2, 1.0), s)})),
    "the tripod sinks": (
        SIX, lambda s: three(s, long={"shift": (0.0, 0.3)}, last={"shift": (0.0, 0.6)})),
    "a graduated filter on all, turned by 10°": (
        SIX, lambda s: three(s, short={"through": aslant(2.0, 5.0, 0.15)},
                              long={"through": aslant(2.0, 15.0, 0.15)},
                              last={"through": aslant(2.0, 5.0, 0.15)})),
    "a car drives through": (SIX, lambda s: three(s, long={"through": car_lights})),
    "lamps come on": (
        SIX, lambda s: three(s, long={"through": lamps(s)}, last={"through": lamps(s)})),
    "a flash for the unfiltered frames": (
        SIX, lambda s: three(s, short={"through": flash(by_hand(s, 0.5, 3.0))}, after=s % 2 == 0)),
    "lightning": (
        SIX, lambda s: three(s, long={"through": lit(by_hand(s, 1.0, 3.0), by_hand(s, 0.2, 0.8),
                                                      LIGHTNING)})),
    "northern lights": (
        SIX, lambda s: three(s, long={"through": lit(by_hand(s, 0.4, 1.0), by_hand(s, 0.0, 0.2),
                                                      NORTHERN_LIGHTS)})),
    "a cloud's shadow over half of all": (
        SIX, lambda s: three(s, long={"through": half_shade(by_hand(s, 0.5, 1.5),
                                                             0.35 + 0.1 * (s % 4))})),
    "a bank of fog": (
        SIX, lambda s: three(s, long={"through": fog_bank(by_hand(s, 0.1, 0.6), 0.5)})),
    "lightning over all of the picture": (
        SIX, lambda s: three(s, long={"through": lit(by_hand(s, 0.4, 1.5), by_hand(s, 0.4, 1.5),
                                                      LIGHTNING)})),
    UNSEEN[0]: (
        SIX, lambda s: three(s, long={"gain_stops": (0.2, -0.2)[s % 2]})),
    "a shutter of 1/2000 s 0.2 stop off, before and after": (
        SIX, lambda s: three(s, nd=SIX, short={"time_s": 1 / 2048, "f_number": 5.6,
                                                "gain_stops": 6.0 + (0.2, -0.2)[s % 2]},
                              long={"time_s": 1 / 32, "f_number": 5.6, "gain_stops": 6.0})),
    "a shutter of 1/2000 s that keeps its time": (
        SIX, lambda s: three(s, nd=SIX, short={"time_s": 1 / 2048, "f_number": 5.6,
                                                "gain_stops": 6.0},
                              long={"time_s": 1 / 32, "f_number": 5.6, "gain_stops": 6.0})),
    "eight seconds by Bulb, open for nine": (
        SIX, lambda s: three(s, long={"gain_stops": float(np.log2(9 / 8)), "program": "bulb"})),
    "two minutes by Bulb, open for a second more": (
        TEN, lambda s: three(s, nd=TEN, long={"gain_stops": float(np.log2(129 / 128)),
                                               "program": "bulb"})),
    "an aperture that sticks": (
        SIX, lambda s: three(s, short={"f_number": 5.6, "time_s": 1 / 32},
                              long={"gain_stops": 2.0})),
    "a foreground lit up to a straight line": (
        SIX, lambda s: three(s, long={"through": lit_below(by_hand(s, 0.5, 2.0),
                                                            (0.42, 0.6)[s % 2])})),
    "headlights over all of the foreground": (
        SIX, lambda s: three(s, long={"through": patch(by_hand(s, 0.5, 3.0), 0.5, 0.9,
                                                        by_hand(s + 5, 0.2, 0.6), HEADLIGHTS)})),
    ON_ANOTHER[1]: (
        NINE, lambda s: three(s, nd=NINE, short={"nd": SIX, "time_s": 8.0},
                               long={"time_s": 64.0})),
    "unfiltered frames of four seconds": (
        SIX, lambda s: three(s, short={"time_s": 4.0, "gain_stops": -5.0},
                              long={"time_s": 256.0, "gain_stops": -5.0})),
    "the tide goes out": (
        SIX, lambda s: three(s, short={"through": water_from(0.6)},
                              long={"through": water_from(0.7)},
                              last={"through": water_from(0.8)})),
    "frost melts": (
        SIX, lambda s: three(s, short={"through": frost(by_hand(s, 0.4, 1.5), s)},
                              long={"through": frost(by_hand(s, 0.2, 0.4), s)}, after=s % 2 == 0)),
    "a bank of mist crosses": (
        SIX, lambda s: three(s, short={"through": mist(0.5, 0.1)},
                              long={"through": mist(by_hand(s, 0.3, 0.7), 0.5)},
                              last={"through": mist(0.5, 0.9)}, after=s % 2 == 0)),
    "the camera lowered on its tripod": (
        SIX, lambda s: three(s, long={"through": lowered(by_hand(s, 1.0, 4.0))}, after=s % 2 == 0)),
    "three and six stops with a cast": (
        (9.5, 9.05, 8.7), lambda s: three(s, nd=(9.5, 9.05, 8.7), after=s % 2 == 0)),
    "seven unfiltered frames that keep their time and aperture": (SIX, lambda s: _repeated(s, 0.0)),
    "seven unfiltered frames, an aperture that flickers by 0.03 stop": (
        SIX, lambda s: _repeated(s, 0.03)),
    "seven unfiltered frames, an aperture that flickers by 0.1 stop": (
        SIX, lambda s: _repeated(s, 0.1)),
    "the unfiltered frame twenty minutes later": (
        SIX, lambda s: three(s, apart_s=1200.0, light=lambda t: -by_hand(s, 0.0, 0.1) * t / 60.0)),
    "fog that was there before": (
        SIX, lambda s: three(s, short={"through": fog(0.2)},
                              long={"through": fog(by_hand(s, 0.25, 0.5))}, after=False)),
    "a polariser turned, and the ground lit": (
        SIX, lambda s: three(s, short={"through": polarised(1.5, 0.9)},
                              long={"through": lambda signal: lit(0.0, by_hand(s, 0.1, 0.6), SUN)(
                                  polarised(1.5, 0.1)(signal))})),
    **STRANGER,
}  # fmt: skip
"""What makes pairs hard, with the filter that is true of it, by the name that the docs use."""
