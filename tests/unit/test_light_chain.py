"""Which points of the light may be compared, and the plan for the day after."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from auditor.group.grouping import group_shoot
from auditor.history.evenings import with_evenings
from auditor.light.curve import chained, light_points
from auditor.light.forecast import forecasts
from auditor.light.sun import sun_day, sun_position
from auditor.model.advice import LightForecast, NextTime
from auditor.model.audit import LightPoint, Marking, Setup, SiblingPair
from auditor.model.facts import Position
from auditor.model.grouping import Grouping
from auditor.model.settings import GroupSettings
from auditor.words.light import forecast_lines, forecast_of, light_lines
from tests.evenings import audit_of
from tests.shoot_maker import Shoot
from tests.shoot_plans import coast, shutter_for

PLACE = Position(54.2, 3.6)
ADVICE = NextTime(
    time_s=0.5, f_number=11.0, iso=100.0, frame="A", change_stops=0.0, headroom_stops=1 / 3
)


def point(frame: str, at: str = "2024-10-03T19:13:00+02:00", ev: float = 8.0) -> LightPoint:
    return LightPoint(frame, at, ev, drift_stops_per_min=-0.17)


def test_only_what_is_static_in_one_set_up_is_compared() -> None:
    setups = (Setup("S01", ("A", "B", "L"), None, None, ()), Setup("S02", ("C",), None, None, ()))
    pair = SiblingPair("S01", "B", "L", 0, 10, {}, {}, -0.2, Marking(10, 3, 1000), 0, 1, 0, 0.9, ())
    grouping = Grouping(setups=setups, siblings=(pair,), levels={"A": 0.1, "B": -0.4, "C": 0.0})
    found = chained([point(name, ev=ev) for name, ev in zip("ABLC", (8, 11, 9, 5), strict=True)],
                    grouping)  # fmt: skip
    assert [one.chain for one in found] == [1, 1, 1, None]
    assert [one.chain_stops for one in found] == pytest.approx([0.0, -0.5, -0.7, None])


def test_a_night_belongs_to_its_evening_as_everywhere() -> None:
    dated = with_evenings([point("A", "2024-10-04T01:30:00+02:00"), point("B", "once")])
    assert [one.day for one in dated] == ["2024-10-03", None]


@pytest.mark.parametrize("fall", [0.0, -0.2])
def test_the_change_of_a_simulated_evening_is_found_whatever_the_composition(fall: float) -> None:
    """Three compositions of quite different tone, in light that is steady or falls."""
    shoot = Shoot(5, light=lambda at_s: fall * at_s / 60.0)
    for number, seed in enumerate((1, 2, 3)):
        for step in range(4):
            at_s = 400.0 * number + 60.0 * step
            shoot.take(coast(seed), at_s, shutter_for(shoot.light(at_s)))
    grouping = group_shoot(shoot.frames, GroupSettings())
    names = [name for setup in grouping.setups for name in setup.frames]
    points = [
        replace(point(name), captured_at=shoot.kept[name].facts.captured_at,
                drift_stops_per_min=grouping.drifts.get(name))
        for name in names
    ]  # fmt: skip
    found = with_evenings(chained(points, grouping))
    assert len({one.chain for one in found}) == len(grouping.setups)
    for setup in grouping.setups:
        change = [one.chain_stops for one in found if one.frame in setup.frames]
        assert change == pytest.approx([fall * n for n in range(len(change))], abs=0.08)
    (line,) = light_lines(found)
    assert ("was steady" in line) is (fall == 0.0)
    assert ("fell by 0.2" in line) is (fall < 0.0)


def test_each_day_is_told_by_itself_and_nothing_where_nothing_tells() -> None:
    days = [replace(point("A", f"2024-10-0{n}T19:13:00+02:00"), day=f"2024-10-0{n}", chain=n)
            for n in (3, 4)]  # fmt: skip
    assert light_lines(days) == [
        "2024-10-03: The light fell by 0.17 stop a minute at 19:13.",
        "2024-10-04: The light fell by 0.17 stop a minute at 19:13.",
    ]
    assert light_lines([replace(days[0], chain=None)]) == []


def test_the_plan_for_the_day_after_waits_for_the_same_height_of_the_sun() -> None:
    """A frame of the minute of sunset is planned for the next day's sunset."""
    first = sun_day(datetime.fromisoformat("2024-10-03T12:00:00+02:00"), PLACE)
    second = sun_day(datetime.fromisoformat("2024-10-04T12:00:00+02:00"), PLACE)
    assert first is not None
    assert second is not None
    assert first.sunset is not None
    assert second.sunset is not None
    sun = sun_position(datetime.fromisoformat(first.sunset), PLACE)
    assert sun is not None
    setups = (Setup("S01", ("A",), None, None, (), next_time=ADVICE),)
    seen = replace(point("A", first.sunset), sun_altitude_deg=sun.altitude_deg, day="2024-10-03")
    (row,) = forecasts(setups, [seen], {}, PLACE)
    off = datetime.fromisoformat(row.at) - datetime.fromisoformat(second.sunset)
    assert abs(off) < timedelta(seconds=20)
    assert (row.setup, row.time_s, row.expected_ev100) == ("S01", 0.5, 8.0)
    assert forecasts(setups, [seen], {}, None) == ()
    noon = replace(seen, sun_altitude_deg=30.0)
    assert forecasts(setups, [noon], {}, PLACE) == ()


def test_only_the_last_day_is_planned_and_what_belongs_together_once() -> None:
    setups = tuple(
        Setup(f"S0{n}", (name,), None, None, (), next_time=replace(ADVICE, frame=limiting))
        for n, (name, limiting) in enumerate(zip("ABC", "ABB", strict=True), 1)
    )
    sun = sun_position(datetime.fromisoformat("2024-10-04T19:13:00+02:00"), PLACE)
    assert sun is not None
    seen = [
        replace(point(name, f"2024-10-0{day}T19:13:00+02:00"), day=f"2024-10-0{day}",
                sun_altitude_deg=sun.altitude_deg)
        for name, day in zip("ABC", (3, 4, 4), strict=True)
    ]  # fmt: skip
    assert [row.setup for row in forecasts(setups, seen, {}, PLACE)] == ["S02"]
    assert light_points([]) == ()


def test_the_light_of_set_ups_that_share_their_settings_comes_again_at_one_time() -> None:
    """The plan has one row for all of them, under the first; the lines name them all."""
    advice = NextTime(
        time_s=0.5, f_number=11.0, iso=100.0, frame="A", change_stops=0.0, headroom_stops=1 / 3,
        text="0.5 s, f/11, ISO 100",
    )  # fmt: skip
    setups = tuple(Setup(name, (name,), None, 24.0, (None,), next_time=advice) for name in "ABC")
    row = LightForecast(
        at="2031-09-15T19:18:00+02:00", setup="A", sun_altitude_deg=-1.6, expected_ev100=7.2,
        day="2031-09-14", time_s=0.5, f_number=11.0, iso=100.0, behind=(),
    )  # fmt: skip
    audit = replace(audit_of([], setups=setups), forecast=(row,))
    assert forecast_of(advice, audit) == "19:18, sun −1.6°, EV 7.2"
    assert forecast_of(replace(advice, time_s=1.0), audit) == ""
    assert list(forecast_lines(audit)) == [
        "19:18, sun −1.6°, EV 7.2: Set-ups 1 to 3: 0.5 s, f/11, ISO 100."
    ]
