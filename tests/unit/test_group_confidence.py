"""What a filter's figure is believed for, one thing at a time."""

from __future__ import annotations

from datetime import datetime
from itertools import cycle
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest

from auditor.advise.limits import TRUSTED
from auditor.group.confidence import confidence, doubts
from auditor.group.drift import Scatter, Series, scatter_of
from auditor.group.evenness import by_tone, scattered_light
from auditor.group.moving import core_of_rows
from auditor.group.pairing import PairMeasurement, _drift_error
from auditor.group.ratio import Attenuation
from auditor.group.siblings import _like_another, _measured_again
from auditor.group.view import SetupView
from auditor.history.limits import LEAST_CONFIDENCE
from auditor.light.exposure import GREY_SHARE
from auditor.model.arrays import F32
from auditor.model.half_sample_mode import Core
from auditor.model.remark import Doubt
from auditor.model.settings import GroupSettings
from tests.before_the_lens import daylight, held, places
from tests.effect_shoots import three
from tests.shoot_maker import GradGlass, Shoot
from tests.shoot_plans import SIX, TEN, coast
from tests.told import group_shoot

NONE = np.zeros((1, 1), np.float32)
OF_PAIR = ("drift_error_stops", "jump_chance", "like_another_stops", "scatter")


def setting(
    stops: float = 6.0, *, minutes: float = 0.0, below_grad: bool = False,
    f_number: float | None = 8.0,
    spread: float = 0.0, count: int = 400, drift: float | None = 0.0, graded: int | None = None,
    densest: float = 2.0, short_s: float = 0.125, long_s: float = 8.0, program: str = "manual",
    long_f: float = 8.0, long_iso: float = 100.0, cast_rb: tuple[float, float] = (0.0, 0.0),
    **more: Any,
) -> tuple[SetupView, PairMeasurement]:  # fmt: skip
    """A pair with frames before and after unless ``drift`` is None, well but for what is said."""
    own = {key: more.pop(key) for key in OF_PAIR if key in more}
    of_pair: dict[str, Any] = {
        "stops": {"R": stops + cast_rb[0], "G": stops, "B": stops + cast_rb[1]},
        "core": Core(stops, spread, count, count), "overlap": 1.0,
        "uneven_stops": 0.0, "tiles": NONE, "filled": NONE, **more,
    }  # fmt: skip
    shots = [
        SimpleNamespace(
            time_s=time_s,
            facts=SimpleNamespace(
                position=None,
                exposure=SimpleNamespace(
                    true_f_number=number, true_iso=iso, nominal_time_s=time_s, program=program
                ),
            ),
        )
        for time_s, number, iso in ((short_s, f_number, 100.0), (long_s, long_f, long_iso))
    ]
    grad = () if graded is None else (SimpleNamespace(with_=graded, profile_stops=(densest,)),)
    view = SimpleNamespace(
        main="G", setup=SimpleNamespace(shots=shots), grads=grad,
        minutes_between=lambda short, long: minutes,
        density=lambda long, others: NONE if below_grad else None,
    )  # fmt: skip
    other = None if drift is None else 2
    pair = PairMeasurement(0, 1, Attenuation(**of_pair), of_pair["stops"], drift, other, **own)
    return cast(SetupView, view), pair


@pytest.mark.parametrize(
    ("told", "expected"),
    [
        ({}, 0.95),
        ({"uneven_stops": 0.4}, 0.85),
        ({"corner_stops": 1.2}, 0.83),
        ({"by_water": True}, 0.87),
        ({"below_grad": True}, 0.94),
        ({"graded": 0}, 0.5),
        ({"graded": 1}, 0.95),
        ({"below_grad": True, "by_water": True}, 0.82),
        ({"spread": 0.5}, 0.74),
        ({"count": 75}, 0.475),
        ({"drift_error_stops": 0.1}, 0.63),
        ({"scattered_stops": 0.05}, 0.5),
        ({"scattered_stops": 0.2}, 0.5),
        ({"sky_more_stops": -0.6, "uneven_stops": 0.4}, 0.5),
        ({"by_tone_stops": 0.05}, 0.95),
        ({"jump_chance": 0.05}, 0.95),
        ({"jump_chance": 0.4}, 0.6),
        ({"by_tone_stops": 0.07}, 0.4),
        ({"sky_more_stops": 0.6}, 0.5),
        ({"f_number": None}, 0.5),
        ({"uneven_stops": 1.7}, 0.28),
        ({"uneven_stops": 2.0}, 0.3),
        ({"long_iso": 80.0}, 0.5),
        ({"long_iso": 200.0}, 0.95),
        ({"long_f": 9.4}, 0.95),
        ({"long_f": 9.7}, 0.6),
        ({"graded": 1, "densest": 2.19}, 0.95),
        ({"graded": 1, "densest": 1.75}, 0.5),
        ({"graded": 0, "densest": 1.75}, 0.5),
        ({"program": "bulb"}, 0.69),
        ({"program": "bulb", "long_s": 30.0}, 0.95),
        ({"long_s": 7.0}, 0.64),
        ({"long_s": 7.5}, 0.95),
        ({"drift": None}, 0.95),
        ({"drift": None, "minutes": 2.0}, 0.74),
        ({"drift": None, "stops": 4.0}, 0.95),
    ],
    ids=str,
)
def test_each_thing_costs_its_share_of_belief(told: dict[str, Any], expected: float) -> None:
    view, pair = setting(**told)
    assert confidence(view, pair, known=True) == pytest.approx(expected, abs=0.02)


@pytest.mark.parametrize(
    ("told", "expected"),
    [
        ({}, 0.92),
        ({"drift": None}, 0.91),
        ({"drift": None, "minutes": 2.0, "stops": 6.2}, 0.3),
        ({"stops": 6.08}, 0.87),
        ({"stops": 6.15}, 0.735),
        ({"stops": 5.85}, 0.735),
        ({"stops": 6.2}, 0.64),
        ({"stops": 6.3}, 0.54),
        ({"drift": None, "stops": 6.15}, 0.63),
        ({"drift": None, "stops": 6.3}, 0.38),
        ({"stops": 2.0}, 0.5),
        ({"stops": 3.0}, 0.92),
        ({"drift": None, "stops": 3.0}, 0.5),
        ({"drift": None, "stops": 4.0}, 0.91),
        ({"like_another_stops": 1.0}, 0.5),
        ({"jump_chance": 0.4, "stops": 6.3}, 0.34),
        ({"short_s": 0.7}, 0.92),
        ({"short_s": 0.8}, 0.5),
        ({"short_s": 1 / 350}, 0.92),
        ({"short_s": 1 / 512}, 0.62),
        ({"cast_rb": (0.15, -0.2)}, 0.5),
        ({"cast_rb": (-0.15, 0.2)}, 0.5),
        ({"cast_rb": (0.04, -0.065)}, 0.92),
        ({"cast_rb": (0.06, -0.1)}, 0.71),
        ({"cast_rb": (0.07, -0.12)}, 0.57),
        ({"cast_rb": (0.07, -0.12), "stops": 6.3}, 0.33),
        ({"cast_rb": (0.136, -0.12), "stops": 6.53}, 0.33),
        ({"cast_rb": (0.176, -0.12), "stops": 6.53}, 0.54),
        ({"cast_rb": (-0.15, -0.2)}, 0.92),
        ({"cast_rb": (0.31, -0.45)}, 0.5),
        ({"cast_rb": (0.4, -0.62)}, 0.92),
        ({"cast_rb": (0.42, -0.45)}, 0.5),
        ({"cast_rb": (0.15, -0.45)}, 0.5),
        ({"cast_rb": (0.1, -0.45)}, 0.92),
        ({"graded": 1, "colour_uneven_stops": 0.13}, 0.5),
        ({"graded": 1, "colour_uneven_stops": 0.11}, 0.92),
    ],
    ids=str,
)
def test_a_filter_that_one_pair_alone_measured_is_believed_less(
    told: dict[str, Any], expected: float
) -> None:
    assert confidence(*setting(**told)) == pytest.approx(expected, abs=0.02)


def test_a_lone_filter_off_its_marking_is_doubted_and_yet_has_its_verdict() -> None:
    """Below what a verdict asks for, no filter could be told off its marking, nor become known."""
    assert TRUSTED <= LEAST_CONFIDENCE <= confidence(*setting(stops=6.45)) <= 0.6


@pytest.mark.parametrize(
    ("told", "code"),
    [
        ({"stops": 6.3}, Doubt.NO_WHOLE_STOPS),
        ({"stops": 2.0}, Doubt.CLOUD),
        ({"stops": 2.0, "drift": None}, Doubt.WEAK),
        ({"f_number": None}, Doubt.NO_APERTURE),
        ({"scattered_stops": 0.2}, Doubt.SCATTERED),
        ({"corner_stops": -0.4}, Doubt.CORNERS),
        ({"sky_more_stops": -0.4}, Doubt.SKY_HELD_LESS),
        ({"by_tone_stops": 0.07}, Doubt.BY_TONE),
        ({"like_another_stops": 1.0}, Doubt.LIKE_ANOTHER),
        ({"jump_chance": 0.11}, Doubt.LIGHT_JUMPS),
        ({"short_s": 1.0}, Doubt.SHORT_FILTERED),
        ({"short_s": 1 / 1000}, Doubt.FAST_SHUTTER),
        ({"cast_rb": (0.2, -0.3)}, Doubt.DAYLIGHT_CAST),
        ({"graded": 1, "colour_uneven_stops": 0.2}, Doubt.COLOURED_GRAD),
        ({"scatter": Scatter(0.04, 1)}, Doubt.EXPOSURES_SCATTER),
        ({"long_f": 9.7}, Doubt.OTHER_APERTURE),
        ({"program": "bulb"}, Doubt.COUNTED),
        ({"long_iso": 50.0}, Doubt.EXTENDED_ISO),
        ({"graded": 1, "densest": 2.3}, Doubt.ODD_GRAD),
    ],
    ids=str,
)
def test_what_costs_belief_is_said(told: dict[str, Any], code: Doubt) -> None:
    assert code in {doubt.code for doubt in doubts(*setting(**told))}


@pytest.mark.parametrize(
    ("stops", "freedom", "known", "expected"),
    [
        (0.0, 1, False, 0.945), (0.0, 5, False, 0.95), (0.035, 5, False, 0.93),
        (0.1, 1, False, 0.755), (0.1, 5, False, 0.62), (0.1, 5, True, 0.62), (0.0, 5, True, 0.95),
    ],
)  # fmt: skip
def test_repeated_exposures_tell_how_far_one_is_believed(
    stops: float, freedom: int, known: bool, expected: float
) -> None:
    """With both sides ``erf(0.1 / (e sqrt 2))`` is left, e the error of one times sqrt 1.5."""
    view, pair = setting(scatter=Scatter(stops, freedom))
    assert confidence(view, pair, known=known) == pytest.approx(expected, abs=0.01)
    scatters = Doubt.EXPOSURES_SCATTER in {doubt.code for doubt in doubts(view, pair)}
    assert scatters == (stops > 0.035)


@pytest.mark.parametrize(
    ("levels", "at", "stops"),
    [
        ((0.0, 0.12, 0.0), (0.0, 10.0, 20.0), 0.12 / 1.5**0.5),
        ((0.0, 0.12, 0.0, 0.12, 0.0), (0.0, 10.0, 20.0, 30.0, 40.0), 0.12 / 1.5**0.5),
        ((0.0, -0.12, 0.0), (0.0, 0.0, 0.0), 0.12 / 1.5**0.5),
        ((0.0, -0.1, -0.2), (0.0, 10.0, 20.0), 0.0),
        ((0.0, -0.075, -0.1), (0.0, 30.0, 40.0), 0.0),
        ((0.0, -0.08, -0.2), (0.0, 10.0, 20.0), 0.0),
        ((0.0, -1.4, 0.0), (0.0, 10.0, 20.0), 0.15 / 1.5**0.5),
        ((0.0, 0.12), (0.0, 10.0), None),
        ((0.0, 0.12, 0.0), (0.0, 10.0, 1000.0), None),
        ((0.0, np.nan, 0.12, 0.0), (0.0, 5.0, 10.0, 20.0), 0.12 / 1.5**0.5),
    ],
)
def test_exposures_scatter_about_light_that_drifts(
    levels: tuple[float, ...], at: tuple[float, ...], stops: float | None
) -> None:
    """A line, its bend and a jump of the light are no scatter; frames hours apart tell nothing."""
    series = Series(np.array(at), np.full(len(at), 0.1), np.array(levels))
    told = scatter_of(series, np.full(len(at), True))
    assert (told is None) == (stops is None)
    if told is not None:
        assert told.stops == pytest.approx(stops, abs=1e-9)
        assert told.freedom == np.isfinite(levels).sum() - 2


@pytest.mark.parametrize("more", [{}, {"time_s": 0.25}, {"f_number": 8.0}, {"iso": 200.0},
                                  {"grad": GradGlass(2.0, 0.42, 0.1)}])  # fmt: skip
def test_only_unfiltered_frames_of_the_same_settings_tell_it(more: dict[str, Any]) -> None:
    shoot = Shoot(0)
    for number, off in enumerate((0.0, 0.12, 0.0)):
        shoot.take(coast(0), 8.0 * number, **({"gain_stops": off, **(more if off else {})}))
    shoot.take(coast(0), 40.0, 8.0, nd=SIX)
    (pair,) = group_shoot(shoot.frames, GroupSettings()).siblings
    told = {doubt.code: doubt.value for doubt in pair.doubts}
    expected = None if more else pytest.approx(0.12 / 1.5**0.5, abs=0.01)
    assert told.get(Doubt.EXPOSURES_SCATTER) == expected


@pytest.mark.parametrize(
    ("heights", "told", "expected"),
    [
        ((40.0, 39.5), {"drift": None, "minutes": 2.0}, 0.83),
        ((8.0, 7.7), {"drift": None, "minutes": 2.0}, 0.70),
        ((-3.0, -3.3), {"drift": None, "minutes": 2.0}, 0.19),
        ((-3.0, -3.05), {"drift": None, "minutes": 0.33}, 0.82),
        ((-17.0, -17.3), {"drift": None, "minutes": 2.0}, 0.85),
        ((40.0, 39.9), {"jump_chance": 0.1}, 0.9),
        ((-1.2, -1.3), {"jump_chance": 0.1}, 0.9),
        ((-1.8, -1.9), {"jump_chance": 0.1}, 0.95),
        ((-1.8, -1.9), {"jump_chance": 0.2}, 0.92),
    ],
    ids=str,
)
def test_the_height_of_the_sun_tells_how_much_the_light_may_have_changed(
    monkeypatch: pytest.MonkeyPatch,
    heights: tuple[float, float],
    told: dict[str, Any],
    expected: float,
) -> None:
    view, pair = setting(**told)
    under_the_sun(monkeypatch, view, heights)
    assert confidence(view, pair, known=True) == pytest.approx(expected, abs=0.02)


def under_the_sun(
    monkeypatch: pytest.MonkeyPatch,
    view: SetupView,
    heights: tuple[float, float],
    scene_ev: float = 12.0,
) -> None:
    """Let the files of a pair tell where the sun stood, and how bright its scene was."""
    suns = cycle(SimpleNamespace(altitude_deg=height) for height in heights)
    monkeypatch.setattr("auditor.group.confidence.sun_position", lambda *_: next(suns))
    grey = np.full((2, 2), np.log2(GREY_SHARE * 1000.0), np.float32)
    image = SimpleNamespace(main=0, stops=lambda _: grey, room_dn=(1000.0,))
    for shot in cast(Any, view).setup.shots:
        shot.image = image
        shot.facts.position, shot.facts.opened = True, datetime(2026, 9, 12, 18)
        shot.facts.exposure.ev100 = scene_ev


@pytest.mark.parametrize(
    ("height", "scene_ev", "short_s", "expected"),
    [
        (40.0, 12.0, 8.0, 0.92), (40.0, 9.8, 0.125, 0.92), (40.0, 9.4, 0.125, 0.5),
        (-4.0, -2.7, 8.0, 0.92), (-4.0, -3.2, 8.0, 0.5),
    ],
)  # fmt: skip
def test_a_scene_darker_than_the_sun_s_height_lets_expect_may_have_a_filter_before_it(
    monkeypatch: pytest.MonkeyPatch,
    height: float,
    scene_ev: float,
    short_s: float,
    expected: float,
) -> None:
    view, pair = setting(short_s=short_s)
    under_the_sun(monkeypatch, view, (height, height), scene_ev)
    assert confidence(view, pair) == pytest.approx(expected, abs=0.02)
    told = {doubt.code for doubt in doubts(view, pair)}
    assert (Doubt.SHORT_FILTERED in told) is (expected == 0.5)


def test_a_filter_that_earlier_shoots_know_may_leave_whole_stops_and_be_weak() -> None:
    for stops in (6.3, 2.0):
        view, pair = setting(stops)
        assert confidence(view, pair, known=True) == pytest.approx(0.95, abs=0.01)
        assert list(doubts(view, pair, known=True)) == []


@pytest.mark.parametrize(
    ("stops", "apart", "known"),
    [(6.4, 0.0, True), (6.4, 0.1, True), (6.4, 0.15, False), (2.4, 0.0, False)],
)
def test_what_another_set_up_measured_as_well_is_no_cloud_unless_clouds_take_so_much(
    stops: float, apart: float, known: bool
) -> None:
    shoot = Shoot(1)
    for number, lost in enumerate((stops, stops + apart)):
        place, at_s = coast(1, number), 900.0 * number
        shoot.take(place, at_s)
        shoot.take(place, at_s + 20.0, 0.125 * 2.0 ** round(lost), nd=(lost, lost, lost))
        shoot.take(place, at_s + 60.0)
    pairs = group_shoot(shoot.frames, GroupSettings()).siblings
    assert len(pairs) == 2
    for pair in pairs:
        assert (pair.confidence >= 0.9) is known
        assert ({doubt.code for doubt in pair.doubts} == set()) is known


@pytest.mark.parametrize(
    ("change", "span_s", "at_end", "expected"),
    [
        (-0.5, 300.0, False, 0.075),
        (-0.5, 60.0, False, 0.2),
        (-0.38, 60.0, False, 0.057),
        (-0.42, 60.0, False, 0.168),
        (-0.5, 300.0, True, 0.226),
        (0.0, 60.0, False, 0.0),
    ],
)
def test_light_that_changes_at_once_and_stamps_of_the_end_leave_a_drift_less_sure(
    change: float, span_s: float, at_end: bool, expected: float
) -> None:
    exposure = SimpleNamespace(stamp_at_end=at_end)
    shots = [SimpleNamespace(facts=SimpleNamespace(exposure=exposure))]
    series = SimpleNamespace(time_s=np.array([128.0]))
    view = SimpleNamespace(setup=SimpleNamespace(shots=shots), series=series)
    told = _drift_error(cast(SetupView, view), 0, change, span_s)
    assert told == pytest.approx(expected, abs=0.002)


@pytest.mark.parametrize(("bent", "expected"), [(None, 0.075), (0.0, 0.04), (-0.1, 0.048)])
def test_a_drift_is_surer_where_other_frames_tell_its_bend(
    bent: float | None, expected: float
) -> None:
    exposure = SimpleNamespace(stamp_at_end=False)
    shots = [SimpleNamespace(facts=SimpleNamespace(exposure=exposure))]
    view = SimpleNamespace(setup=SimpleNamespace(shots=shots))
    told = _drift_error(cast(SetupView, view), 0, -0.5, 300.0, bent)
    assert told == pytest.approx(expected, abs=0.002)


@pytest.mark.parametrize(("falls", "bent"), [(0.14, False), (0.2, True)])
def test_from_where_on_light_leaves_the_straight_line(falls: float, bent: bool) -> None:
    shoot = Shoot(1, light=lambda t: -falls * (t / 200.0) ** 2)
    for at_s in (0.0, 60.0, 120.0, 180.0):
        shoot.take(coast(1, 1), at_s)
    shoot.take(coast(1), 200.0)
    shoot.take(coast(1), 240.0, 64.0, nd=SIX)
    for at_s in (340.0, 400.0):
        shoot.take(coast(1), at_s)
    (pair,) = group_shoot(shoot.frames, GroupSettings()).siblings
    true = -falls * (1.36**2 - 1.0)
    assert (abs((pair.light_drift_stops or 0.0) - true) <= 0.01) is bent


def test_bright_and_dark_ground_side_by_side() -> None:
    rng = np.random.default_rng(3)
    tones = rng.normal(0.0, 1.0, (40, 96)).astype(np.float32)
    noise = 0.02 * rng.standard_normal(tones.shape).astype(np.float32)
    assert by_tone(noise, tones) <= 0.003
    assert by_tone(0.1 * tones + noise, tones) == pytest.approx(0.1, abs=0.01)
    assert by_tone(-0.1 * tones + noise, tones) == pytest.approx(0.1, abs=0.01)
    own = rng.normal(0.0, 0.1, tones.shape).astype(np.float32)
    assert by_tone(own, tones) <= 0.01, "what scatters by itself does not go with the tone"
    few = np.where(rng.random(tones.shape) < 0.2, tones, np.float32(np.nan))
    assert by_tone(few, tones) == 0.0, "too few tiles"


@pytest.mark.parametrize(("apart", "told"), [(0.1, 0.0), (0.3, 0.3), (-1.6, -1.6), (2.0, 0.0)])
def test_how_far_a_filter_in_other_light_may_lie_from_itself(apart: float, told: float) -> None:
    red, green, blue = off = np.full(3, apart)

    def like(*rows: Any) -> float:
        return _like_another(dict(zip("RGB", np.array(rows).reshape(-1, 3).T, strict=True)), "G")

    assert like(off) == pytest.approx(told)
    for cast_off in (0.016, -0.016):
        assert like((red + cast_off, green, blue)) == pytest.approx(told)
    assert like((red + 0.025, green, blue)) == 0.0
    for mired in (-40.0, 20.0, 50.0):
        assert like(off - daylight(mired)) == pytest.approx(told), "the light's own colour"
        assert like(off - daylight(mired) * np.array([-1.0, 1.0, 1.0])) == 0.0
    assert like(off - daylight(100.0)) == 0.0, "further than daylight goes"
    assert like((np.nan, green, np.nan)) == 0.0, "no cast is told"
    assert like((np.nan, green, blue)) == pytest.approx(told), "one other colour is enough"
    several = [np.full(3, 2.5), off, np.full(3, -1.7), np.full(3, np.nan)]
    assert like(*several) == pytest.approx(told if apart < 2.0 else -1.7), "the nearest counts"
    assert like() == 0.0


def test_a_filter_that_another_setup_measured_in_every_colour() -> None:
    own = np.array([6.1, 6.0, np.nan])
    near = own + 0.1
    assert _measured_again(own, np.array([own + 1.0, near]))
    assert not _measured_again(own, np.array([own + np.array([0.1, 0.3, 0.0])])), (
        "one colour is off"
    )
    assert not _measured_again(own, np.array([[6.1, 6.0, 5.9]])), "that told a colour more"
    assert not _measured_again(own, np.array([[6.1, np.nan, np.nan]])), "and a colour less"
    assert not _measured_again(own, own[None][:0])


def test_scattered_light_is_found_by_the_tones_it_lifts_and_nowhere_else() -> None:
    rng = np.random.default_rng(3)
    tones = rng.normal(0.0, 1.2, (64, 96)).astype(np.float32)
    noise = 0.02 * rng.standard_normal(tones.shape).astype(np.float32)
    lift = np.log2(1.0 + 0.1 * np.exp2(np.median(tones) - tones))
    found = scattered_light(6.0 - lift + noise, tones)
    assert np.median(np.abs(found - lift)) <= 0.005
    assert np.quantile(np.abs(found - lift), 0.99) <= 0.05
    for without in (6.0 + noise, 6.0 - 0.2 * lift + noise, 6.0 + lift + noise):
        assert not scattered_light(without, tones).any(), "even, too little, the wrong way"
    assert not scattered_light(6.0 - lift + noise, 0.2 * tones).any(), "tones all alike"


@pytest.mark.parametrize(("stops", "found"), [(0.04, False), (0.062, True)])
def test_how_much_scattered_light_is_some(stops: float, found: bool) -> None:
    tones = np.random.default_rng(3).normal(0.0, 1.2, (64, 96)).astype(np.float32)
    lift = np.log2(1.0 + (2.0**stops - 1.0) * np.exp2(np.median(tones) - tones))
    assert scattered_light(6.0 - lift, tones).any() == found


@pytest.mark.parametrize(("stops", "told"), [(0.09, True), (0.15, False)])
def test_a_cast_that_is_another_over_half_of_the_picture_is_not_told(
    stops: float, told: bool
) -> None:
    shoot = Shoot(1)
    shoot.take(coast(1), 0.0)
    shoot.take(coast(1), 20.0, 8.0, nd=SIX, through=lambda signal: half_red(signal, stops))
    shoot.take(coast(1), 40.0)
    (pair,) = group_shoot(shoot.frames, GroupSettings()).siblings
    assert bool(pair.cast_stops) is told
    assert (Doubt.COLOURS_UNEVEN not in {doubt.code for doubt in pair.doubts}) is told


def half_red(signal: F32, stops: float) -> F32:
    """Hold red back by so much more over the right half."""
    _, x = places(signal)
    return held(signal, np.stack([stops * (x > 0.5), 0.0 * x, 0.0 * x]))


def test_water_is_the_mean_of_its_rows_whatever_single_rows_show() -> None:
    rng = np.random.default_rng(2)
    rows = 6.0 + 0.1 * rng.standard_normal(40)
    rows[3] = 9.0
    tiles = np.repeat(rows[:, None], 96, axis=1).astype(np.float32)
    tiles[20] = np.nan
    core = core_of_rows(tiles)
    assert core is not None
    assert core.value == pytest.approx(6.0, abs=0.04)
    assert core.spread == pytest.approx(0.1, abs=0.04)


def reddening(seed: int, *, before: bool, after: bool) -> Shoot:
    """A pair with the short frame before it, in light that reddens as it falls."""
    shoot = Shoot(
        seed,
        light=lambda t: -0.1 * t / 60.0,
        tint=lambda t: (0.08 * t / 60.0, 0.0, -0.1 * t / 60.0),
    )
    for at_s in (0.0, 60.0, 120.0) if before else (120.0,):
        shoot.take(coast(seed), at_s)
    shoot.take(coast(seed), 140.0, 64.0, nd=SIX)
    for at_s in (300.0, 380.0) if after else ():
        shoot.take(coast(seed, 1), at_s)
    return shoot


@pytest.mark.parametrize("seed", range(2))
def test_the_pace_of_the_light_is_taken_out_colour_by_colour(seed: int) -> None:
    (pair,) = group_shoot(reddening(seed, before=True, after=True).frames, GroupSettings()).siblings
    assert pair.light_drift_stops == pytest.approx(-0.087, abs=0.03)
    assert pair.cast_stops == pytest.approx({"R": 0.09, "B": -0.06}, abs=0.02)


@pytest.mark.parametrize("seed", range(2))
def test_frames_before_and_after_take_the_light_out_colour_by_colour(seed: int) -> None:
    """Red rises by 0.1 stop and blue falls by 0.13 from the short frame before to the long one."""
    shoot = three(seed, nd=TEN, light=lambda t: -0.2 * t / 60.0, reddens=0.2)
    (pair,) = group_shoot(shoot.frames, GroupSettings()).siblings
    cast = {"R": TEN[0] - TEN[1], "B": TEN[2] - TEN[1]}
    assert pair.cast_stops == pytest.approx(cast, abs=0.02)


@pytest.mark.parametrize(("before", "value"), [(True, 0.087), (False, 0.1)])
def test_a_cast_from_one_side_says_how_much_reddening_may_be_in_it(
    before: bool, value: float
) -> None:
    shoot = reddening(0, before=before, after=False)
    (pair,) = group_shoot(shoot.frames, GroupSettings()).siblings
    (told,) = (doubt.value for doubt in pair.doubts if doubt.code is Doubt.ONE_SIDE)
    assert told == pytest.approx(value, abs=0.005)
    assert abs(pair.cast_stops["B"] + 0.06) <= told + 0.02
