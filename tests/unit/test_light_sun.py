from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta, timezone

import pytest

from auditor.light.sun import (
    PHASES,
    SunPosition,
    clear_sky_stops,
    phase_at,
    phase_of,
    sun_day,
    sun_days,
    sun_position,
    with_zone,
)
from auditor.model.audit import SunDay
from auditor.model.codes import SunSide
from auditor.model.facts import Position
from auditor.words.light import sun_day_with_words
from tests.evenings import SANDS, ZONE

NORTH = Position(69.6, 18.9)
CET = timezone(timedelta(hours=1))


def told(moment: datetime, place: Position) -> SunDay:
    """Return a day with its sentences."""
    day = sun_day(moment, place)
    assert day is not None
    return sun_day_with_words(day)


def test_midnight_sun_is_none_with_the_reason() -> None:
    day = told(datetime(2031, 6, 21, 12, tzinfo=CET), NORTH)
    assert (day.sunrise, day.sunset, day.civil_dusk) == (None, None, None)
    assert day.stays["sunset"] is SunSide.ABOVE
    assert "stays above the horizon" in day.reasons["sunset"]
    assert "above 6°" in day.reasons["civil_dusk"]
    assert day.noon_altitude_deg > 40


def test_polar_night_still_has_its_twilight() -> None:
    day = told(datetime(2031, 12, 21, 12, tzinfo=CET), NORTH)
    assert day.sunrise is None
    assert "stays below the horizon" in day.reasons["sunrise"]
    assert day.civil_dawn is not None
    assert "civil_dawn" not in day.reasons


def test_dusk_after_midnight_belongs_to_its_evening() -> None:
    place = Position(60.0, 20.0)
    day = sun_day(datetime(2031, 6, 21, 12, tzinfo=timezone(timedelta(hours=3))), place)
    assert day is not None
    assert day.civil_dusk is not None
    assert day.civil_dusk.startswith("2031-06-22T00:")
    assert day.date == "2031-06-21"


def test_events_come_in_the_order_of_a_day() -> None:
    day = sun_day(datetime(2031, 9, 14, 12, tzinfo=ZONE), SANDS)
    assert day is not None
    times = [
        day.astronomical_dawn, day.nautical_dawn, day.civil_dawn, day.sunrise, day.noon_at,
        day.sunset, day.civil_dusk, day.nautical_dusk, day.astronomical_dusk,
    ]  # fmt: skip
    moments = [datetime.fromisoformat(time) for time in times if time is not None]
    assert len(moments) == 9
    assert moments == sorted(moments)


def test_a_clock_without_offset_is_taken_as_zone_time_and_says_so() -> None:
    naive = datetime(2031, 9, 14, 12)
    day = told(naive, Position(45.0, 31.0))
    assert "UTC+02:00 from the longitude" in day.assumption
    assert day.assumed_utc_offset_h == 2
    assert day.noon_at.endswith("+02:00")
    west, _ = with_zone(naive, Position(45.0, -122.0))
    assert west.utcoffset() == timedelta(hours=-8)
    aware = told(naive.replace(tzinfo=UTC), Position(45.0, 31.0))
    assert (aware.assumption, aware.assumed_utc_offset_h) == ("", None)


@pytest.mark.parametrize(
    ("clock", "phase"),
    [("03:30", "night"), ("05:00", "before sunrise"), ("06:45", "after sunrise"),
     ("12:00", "day"), ("18:45", "before sunset"), ("19:40", "after sunset"), ("23:00", "night")],
)  # fmt: skip
def test_phases_of_a_day(clock: str, phase: str) -> None:
    moment = datetime.fromisoformat(f"2031-09-14T{clock}:00+01:00")
    assert phase_at(moment, SANDS) == phase
    assert phase in PHASES


@pytest.mark.parametrize(
    ("moment", "place"),
    [
        (datetime(1, 1, 1), SANDS),
        (datetime(9999, 12, 31, 23, tzinfo=UTC), SANDS),
        (datetime(2031, 1, 1, tzinfo=UTC), Position(math.nan, 0.0)),
        (datetime(2031, 1, 1, tzinfo=UTC), Position(91.0, 0.0)),
        (datetime(2031, 1, 1, tzinfo=UTC), Position(0.0, math.inf)),
    ],
)
def test_moments_and_places_that_cannot_be_tell_nothing(moment: datetime, place: Position) -> None:
    assert sun_position(moment, place) is None
    assert sun_day(moment, place) is None
    assert phase_at(moment, place) is None


@pytest.mark.parametrize("latitude", [90.0, -90.0])
def test_the_poles_have_a_sun_too(latitude: float) -> None:
    day = sun_day(datetime(2031, 6, 21, 12, tzinfo=UTC), Position(latitude, 0.0, math.inf))
    assert day is not None
    assert day.sunset is None
    assert day.noon_altitude_deg == pytest.approx(math.copysign(23.4, latitude), abs=0.2)


def test_one_sun_day_for_each_local_day() -> None:
    moments = [datetime(2031, 9, day, hour, tzinfo=ZONE) for day in (15, 14) for hour in (9, 21)]
    assert [day.date for day in sun_days(moments, SANDS)] == ["2031-09-14", "2031-09-15"]


def test_the_last_noon_of_the_age_has_its_height() -> None:
    west = timezone(timedelta(hours=-12))
    day = sun_day(datetime(2199, 12, 31, 12, tzinfo=west), Position(0.0, -180.0))
    assert day is not None
    assert day.noon_altitude_deg == pytest.approx(66.9, abs=0.3)


@pytest.mark.parametrize(
    ("altitude_deg", "evening", "morning"),
    [(6.1, "day", "day"), (5.9, "before sunset", "after sunrise")],
)
def test_the_sun_is_low_up_to_six_degrees(altitude_deg: float, evening: str, morning: str) -> None:
    assert phase_of(SunPosition(altitude_deg, 260.0, 80.0)) == evening
    assert phase_of(SunPosition(altitude_deg, 100.0, -80.0)) == morning


@pytest.mark.parametrize(
    ("altitude_deg", "lux"),
    [(90.0, 1.2e5), (30.0, 5e4), (10.0, 1e4), (5.0, 4500.0), (0.0, 400.0), (-6.0, 3.4),
     (-12.0, 0.008), (-20.0, 0.001)],
)  # fmt: skip
def test_the_light_of_a_clear_sky_is_what_tables_of_daylight_give(
    altitude_deg: float, lux: float
) -> None:
    """Round figures for sunlight, sunset and the ends of the twilights, as handbooks have them."""
    against_overhead = math.log2(lux / 1.2e5)
    assert clear_sky_stops(altitude_deg) == pytest.approx(against_overhead, abs=1.0)
