"""Pairs of a short frame and its filtered sibling: figures, choices, words."""

from __future__ import annotations

import math

import pytest

from auditor.findings.base import ShootView
from auditor.group.known import recognised
from auditor.group.pair_findings import find_filter_cast
from auditor.light.filters import drifting, nearest_marking
from auditor.light.nominal import dial_text
from auditor.model.audit import SiblingPair
from auditor.model.codes import TimeSource
from auditor.model.facts import ExposureFacts, LensFacts
from auditor.model.grouping import Grouping
from auditor.model.history import KnownFilter
from auditor.model.remark import Doubt, RemarkCode, remark
from auditor.model.settings import GroupSettings, Settings
from auditor.words.remarks import sentence
from tests.shoot_maker import GradGlass, Shoot
from tests.shoot_plans import SEEDS, SIX, TEN, coast, shutter_for, stacked
from tests.told import group_shoot

NOTHING = (0.0, 0.0, 0.0)


def grouped(shoot: Shoot) -> Grouping:
    return group_shoot(shoot.frames, GroupSettings())


def only(shoot: Shoot) -> SiblingPair:
    (pair,) = grouped(shoot).siblings
    return pair


def short_and_long(seed: int = 1, **more: float) -> Shoot:
    shoot, place = Shoot(seed), coast(seed)
    shoot.take(place, 0.0)
    shoot.take(place, 20.0, 16.0, nd=SIX, **more)  # type: ignore[arg-type]
    shoot.take(place, 50.0)
    return shoot


def test_the_arithmetic_of_a_pair() -> None:
    pair = only(short_and_long())
    assert pair.exposure_difference_stops == pytest.approx(7.0, abs=0.001)
    assert pair.placement_difference_stops == pytest.approx(7.0 - SIX[1], abs=0.01)
    assert pair.matched_time_s == pytest.approx(0.125 * 2 ** SIX[1], rel=0.01)
    assert pair.light_drift_stops == pytest.approx(0.0, abs=0.01)
    assert pair.nearest_marking.stops == 6.0
    assert pair.off_marking_stops == pytest.approx(SIX[1] - 6.0, abs=0.01)
    assert pair.best
    assert 0.8 < pair.confidence <= 1.0


def test_aperture_and_speed_count_in_the_difference() -> None:
    shoot, place = Shoot(1), coast(1)
    shoot.take(place, 0.0, 1 / 60, f_number=8.0, iso=400.0)
    shoot.take(place, 20.0, 60.0, f_number=11.0, iso=100.0, nd=TEN)
    pair = only(shoot)
    assert pair.filter_stops == pytest.approx(10.0, abs=0.02)
    assert pair.exposure_difference_stops == pytest.approx(math.log2(3600.0) - 3.0, abs=0.001)


def test_a_lens_without_contacts_is_taken_as_unchanged() -> None:
    shoot, place = Shoot(1), coast(1)
    shoot.take(place, 0.0, f_number=None, lens=LensFacts())
    shoot.take(place, 20.0, 8.0, f_number=None, lens=LensFacts(), nd=SIX)
    assert only(shoot).filter_stops == pytest.approx(SIX[1], abs=0.02)


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("stops", [1.0, 2.0, 3.0])
def test_weak_filters_that_come_and_go(seed: int, stops: float) -> None:
    shoot, place = Shoot(seed), coast(seed)
    nd = (stops + 0.03, stops, stops - 0.02)
    shoot.take(place, 0.0, 0.5)
    shoot.take(place, 25.0, 0.5 * 2**stops, nd=nd)
    shoot.take(place, 60.0, 0.5)
    assert only(shoot).filter_stops == pytest.approx(stops, abs=0.02)


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("drop", [0.7, 1.0, 1.3])
def test_light_that_drops_at_once_and_stays_down_is_no_filter(seed: int, drop: float) -> None:
    shoot, place = Shoot(seed, light=lambda at_s: -drop * (at_s > 30.0)), coast(seed)
    for at_s in (0.0, 15.0, 40.0, 60.0, 90.0, 600.0):
        shoot.take(place, at_s, shutter_for(shoot.light(at_s)))
    assert grouped(shoot).siblings == ()


@pytest.mark.parametrize("seed", SEEDS)
def test_the_sun_going_in_is_no_filter(seed: int) -> None:
    shoot, place = Shoot(seed, light=lambda at_s: -2.0 * (at_s > 10.0)), coast(seed)
    shoot.take(place, 0.0)
    shoot.take(place, 20.0, 0.5, sky_less_ground=1.7)
    assert grouped(shoot).siblings == ()


def falling(seed: int, *, afterwards: bool) -> SiblingPair:
    """A long frame after three short ones, the light falling; perhaps another place after it."""
    shoot, place = Shoot(seed, light=lambda at_s: -at_s / 300.0), coast(seed)
    for at_s in (0.0, 120.0, 240.0):
        shoot.take(place, at_s)
    shoot.take(place, 260.0, 200.0, nd=TEN)
    for at_s in (500.0, 620.0) if afterwards else ():
        shoot.take(coast(seed, 1), at_s)
    return only(shoot)


@pytest.mark.parametrize("seed", SEEDS)
def test_one_sided_pairs_take_the_pace_of_the_light_before_and_after_out(seed: int) -> None:
    pair = falling(seed, afterwards=True)
    assert pair.filter_stops == pytest.approx(10.0, abs=0.05)
    assert pair.light_drift_stops == pytest.approx(-0.40, abs=0.05)
    assert any("pace" in reason for reason in pair.reasons)
    assert pair.confidence == pytest.approx(0.7, abs=0.06), "a fifth of the drift may be off"


@pytest.mark.parametrize("seed", SEEDS)
def test_light_before_alone_tells_no_drift_and_the_figure_is_doubted(seed: int) -> None:
    pair = falling(seed, afterwards=False)
    assert pair.light_drift_stops is None
    assert Doubt.ONE_SIDE in {doubt.code for doubt in pair.doubts}
    assert pair.confidence < 0.6, "0.4 stop off"


def dusk(stops_per_min: float, short_s: float, long_s: float) -> Shoot:
    """A pair with frames before and after, in light that changes evenly in stops."""
    shoot = Shoot(1, light=lambda at_s: stops_per_min * at_s / 60.0)
    shoot.take(coast(1), 0.0, short_s)
    shoot.take(coast(1), 8.0, long_s, nd=TEN)
    shoot.take(coast(1), 48.0 + long_s, short_s)
    return shoot


@pytest.mark.parametrize(("drift", "long_s"), [(-0.2, 90.0), (-0.33, 180.0), (0.2, 90.0)])
def test_the_matching_shutter_goes_on_through_the_drift(drift: float, long_s: float) -> None:
    """The same sum as the plan of a shutter time, from the moment the long one opened."""
    pair = only(dusk(drift, 0.125, long_s))
    opened_stops = -drift * (8.0 - 0.125 / 2.0) / 60.0
    expected = drifting(128.0 * 2.0**opened_stops, drift).time_s
    assert expected is not None
    assert pair.matched_time_s == pytest.approx(expected, rel=0.02)


def test_a_shutter_that_allows_for_the_drift_says_so() -> None:
    reasons = " ".join(only(dusk(-0.2, 0.125, 90.0)).reasons)
    assert "allows for light that falls by 0.20 stop a minute; in steady light it would" in reasons


def test_where_no_shutter_would_have_matched_it_is_null_with_the_reason() -> None:
    pair = only(dusk(-0.33, 0.5, 360.0))
    assert drifting(512.0, -0.33).time_s is None
    assert pair.matched_time_s is None
    assert "take a thinner filter" in pair.reasons[-1]


def test_drift_is_told_in_order_of_time() -> None:
    shoot = Shoot(1, light=lambda at_s: -0.2 * at_s / 60.0)
    shoot.take(coast(1), 0.0)
    shoot.take(coast(1), 300.0, 128.0, nd=TEN)
    near = shoot.take(coast(1), 440.0)
    pair = only(shoot)
    assert pair.short == near
    assert (pair.light_drift_stops or 0.0) > 0.1, "as defined: from the short frame to the long"
    told = " ".join(pair.reasons)
    assert "The light fell by" in told
    assert "from the long frame to the short one" in told
    assert f"measured on {shoot.frames[0].id} and {near} before and after" in told


def test_a_dials_time_stands_first_and_the_true_one_with_it() -> None:
    reasons = " ".join(only(short_and_long()).reasons)
    assert "stood open for 16 s against 1/8 s" in reasons
    assert dial_text(ExposureFacts(32.0, TimeSource.APEX, 30.0)) == "30 s (32 s true)"
    assert dial_text(ExposureFacts(1 / 128, TimeSource.APEX, 1 / 125)) == "1/125 s"
    assert dial_text(ExposureFacts(406.2, TimeSource.TAG, 406.2)) == "6 min 46 s"
    assert dial_text(ExposureFacts()) == "–"


def test_drift_that_nothing_tells_is_said_not_guessed() -> None:
    shoot, place = Shoot(1), coast(1)
    shoot.take(place, 0.0)
    shoot.take(place, 260.0, 200.0, nd=TEN)
    pair = only(shoot)
    assert pair.light_drift_stops is None
    assert any("drift is in the figure" in reason for reason in pair.reasons)


@pytest.mark.parametrize("seed", SEEDS)
def test_the_sibling_is_the_short_frame_of_a_bracket_that_is_placed_alike(seed: int) -> None:
    shoot, place = Shoot(seed), coast(seed)
    frames = [shoot.take(place, float(i), 2.0 ** (k - 3)) for i, k in enumerate((0, -2, -1, 1, 2))]
    shoot.take(place, 30.0, 128.0, nd=TEN)
    shoot.take(place, 400.0)
    assert only(shoot).short == frames[0]


@pytest.mark.parametrize("seed", SEEDS)
def test_a_grad_on_one_of_them_leaves_the_ground_to_measure_by(seed: int) -> None:
    shoot, place = Shoot(seed), coast(seed)
    shoot.take(place, 0.0)
    shoot.take(place, 20.0, 16.0, nd=SIX, grad=GradGlass(2.0, 0.4, 0.2))
    pair = only(shoot)
    assert pair.filter_stops == pytest.approx(SIX[1], abs=0.05)
    assert any("graduated" in reason for reason in pair.reasons)


@pytest.mark.parametrize("seed", SEEDS)
def test_a_grad_on_both_is_no_matter(seed: int) -> None:
    shoot, place, glass = Shoot(seed), coast(seed), GradGlass(3.0, 0.4, 0.2)
    shoot.take(place, 0.0, grad=glass)
    shoot.take(place, 20.0, 16.0, nd=SIX, grad=glass)
    assert only(shoot).filter_stops == pytest.approx(SIX[1], abs=0.05)
    assert grouped(shoot).grads == ()


def test_what_was_lost_and_what_moved_is_told() -> None:
    shoot, place = Shoot(2), coast(2)
    shoot.take(place, 0.0)
    shoot.take(place, 20.0, 8.0 * 2**2.5, nd=SIX, shift=(1.5, 0.5))
    reasons = " ".join(only(shoot).reasons)
    assert "of the long frame is blown and was left out" in reasons
    assert "moved by about" in reasons


def test_known_filters_are_recognised_alone_and_stacked() -> None:
    def known(name: str, stops: tuple[float, float, float]) -> KnownFilter:
        by_channel = dict(zip("RGB", stops, strict=True))
        cast = {"R": stops[0] - stops[1], "B": stops[2] - stops[1]}
        return KnownFilter(name, by_channel, 0.03, cast, nearest_marking(stops[1]), 5)

    history = (known("about 6 stops", SIX), known("about 10 stops", TEN),
               known("another six", (6.03, 6.03, 6.03)))  # fmt: skip
    six = group_shoot(short_and_long().frames, GroupSettings(), history)
    assert [pair.known_filter for pair in six.siblings] == ["about 6 stops"]
    both = group_shoot(stacked(1).shoot.frames, GroupSettings(), history)
    assert [pair.known_filter for pair in both.siblings] == ["about 6 stops + about 10 stops"]
    strange = group_shoot(short_and_long().frames, GroupSettings(), history[1:2])
    assert [pair.known_filter for pair in strange.siblings] == [None]


@pytest.mark.parametrize(("red", "name"), [(0.04, "neutral"), (0.08, "warm"), (0.20, None)])
def test_filters_of_like_density_are_told_apart_by_their_cast(red: float, name: str | None) -> None:
    def known(title: str, cast: float) -> KnownFilter:
        by_channel = {"R": 6.05, "G": 6.0, "B": 6.0}
        return KnownFilter(title, by_channel, 0.0, {"R": cast, "B": 0.0}, nearest_marking(6.0), 5)

    history = (known("neutral", 0.0), known("warm", 0.1))
    assert recognised({"R": 6.05, "G": 6.0, "B": 6.0}, {"R": red, "B": 0.0}, history) == name


def test_the_least_strength_is_a_setting() -> None:
    shoot = short_and_long()
    assert group_shoot(shoot.frames, GroupSettings(filter_least_stops=6.5)).siblings == ()


def test_no_spread_and_no_drift_is_told_as_nothing() -> None:
    assert "0.00 stop" not in " ".join(only(short_and_long()).reasons)
    for spread, told in ((0.001, "within less than 0.01 stop."), (0.0149, "within 0.01 stop.")):
        agree = remark(RemarkCode.TILES_AGREE, count=9, share=0.5, spread_stops=spread)
        assert sentence(agree).endswith(told)
    drifts = {-0.004: "changed by less than 0.01", -0.4: "fell by 0.40", 1.5: "rose by 1.50"}
    for drift, told in drifts.items():
        assert f" {told} stop" in sentence(remark(RemarkCode.LIGHT_BY_PACE, drift_stops=drift))


def test_without_times_no_pace_is_told_and_no_gap_invented() -> None:
    shoot = Shoot(1, light=lambda at_s: -at_s / 300.0)
    for at_s in (0.0, 120.0, 240.0):
        shoot.take(coast(1, 1), at_s, clock=False)
    shoot.take(coast(1), 260.0, clock=False)
    shoot.take(coast(1), 280.0, 128.0, nd=TEN, clock=False)
    pair = only(shoot)
    assert pair.light_drift_stops is None
    assert any("how far apart is not known." in reason for reason in pair.reasons)
    assert not any("middles" in reason for reason in pair.reasons)


def test_without_times_what_is_taken_for_granted_of_the_drift_is_said() -> None:
    shoot, place = Shoot(1), coast(1)
    for time_s, nd in ((0.125, NOTHING), (16.0, SIX), (0.125, NOTHING)):
        shoot.take(place, 20.0 * len(shoot.frames), time_s, nd=nd, clock=False)
    pair = only(shoot)
    assert pair.filter_stops == pytest.approx(SIX[1], abs=0.02)
    assert pair.light_drift_stops is not None
    assert any("taken to lie evenly apart" in reason for reason in pair.reasons)


@pytest.mark.parametrize(
    ("cast", "sides", "told"),
    [(0.15, 2, True), (0.15, 1, False), (0.19, 1, False), (0.22, 1, True)],
)
def test_a_cast_from_one_side_only_asks_for_more(cast: float, sides: int, told: bool) -> None:
    """Light that reddens between the two looks like a filter's cast."""
    shoot, place = Shoot(2), coast(2)
    shoot.take(place, 0.0)
    shoot.take(place, 20.0, 8.0, nd=(6.0 + cast, 6.0, 6.0))
    if sides == 2:
        shoot.take(place, 40.0)
    found = group_shoot(shoot.frames, GroupSettings())
    assert bool(list(find_filter_cast(ShootView({}, found, Settings())))) == told
