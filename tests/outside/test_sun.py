"""Sun events against published almanac rows; the source stands beside each check."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta, timezone
from pathlib import Path

import ephem
import pytest

from auditor.light.sun import Air, sun_day, sun_position
from auditor.model.audit import SunDay
from auditor.model.facts import Position

ALMANAC = Path(ephem.__file__).parent / "tests" / "usno" / "riset_sun.txt"
TABLE_PLACE = Position(33.0 + 46.0 / 60.0, -(84.0 + 25.0 / 60.0))
EASTERN = timezone(timedelta(hours=-5))


def almanac_rows() -> dict[date, tuple[str, str]]:
    """Read the U.S. Naval Observatory's table of 2007 that ephem ships: day to rise and set."""
    rows = {}
    for line in ALMANAC.read_text().splitlines():
        if line[:2].isdigit():
            day = int(line[:2])
            for month in range(12):
                cell = line[4 + 11 * month :][:9].split()
                if cell:
                    rows[date(2007, month + 1, day)] = (cell[0], cell[1])
    return rows


def minutes_off(event: str | None, day: date, clock: str) -> float:
    assert event is not None
    told = datetime(day.year, day.month, day.day, int(clock[:2]), int(clock[2:]), tzinfo=EASTERN)
    return (datetime.fromisoformat(event) - told) / timedelta(minutes=1)


def test_a_year_of_almanac_rows() -> None:
    rows = almanac_rows()
    assert len(rows) == 365
    assert rows[date(2007, 6, 21)] == ("0527", "1951")
    off = []
    for day, (rise, down) in rows.items():
        told = sun_day(datetime(day.year, day.month, day.day, 15, tzinfo=EASTERN), TABLE_PLACE)
        assert told is not None
        off += [minutes_off(told.sunrise, day, rise), minutes_off(told.sunset, day, down)]
    # The table gives whole minutes, rounded: half a minute and a breath.
    assert max(abs(minutes) for minutes in off) < 0.6
    assert abs(sum(off) / len(off)) < 0.1


def clock(day: SunDay, name: str) -> str:
    event = getattr(day, name)
    assert event is not None
    rounded = datetime.fromisoformat(event).astimezone(UTC) + timedelta(seconds=30)
    return rounded.strftime("%H:%M")


def test_rise_and_set_of_an_almanac_row() -> None:
    # U.S. Naval Observatory, the row of 2018-09-12, as in skyfield's test_almanac.py.
    told = sun_day(
        datetime(2018, 9, 12, 20, tzinfo=timezone(timedelta(hours=-4))),
        Position(40.8939, -83.8917),
    )
    assert told is not None
    assert (clock(told, "sunrise"), clock(told, "sunset")) == ("11:13", "23:50")
    assert told.date == "2018-09-12"


def test_twilights_of_an_almanac_row() -> None:
    # The row of 2019-11-08 in skyfield's test_almanac.py (computed with DE421, rounded).
    told = sun_day(datetime(2019, 11, 8, 17, tzinfo=UTC), Position(41.281944, -84.362778))
    assert told is not None
    published = {
        "astronomical_dawn": "10:42", "nautical_dawn": "11:15", "civil_dawn": "11:48",
        "sunrise": "12:17", "sunset": "22:25", "civil_dusk": "22:54", "nautical_dusk": "23:27",
        "astronomical_dusk": "23:59",
    }  # fmt: skip
    assert {name: clock(told, name) for name in published} == published


def test_place_of_the_sun() -> None:
    # The worked example of NREL's solar position algorithm (from memory; confirmed by
    # skyfield): zenith 50.11162, azimuth 194.34024 at 820 mbar and 11 °C.
    told = sun_position(
        datetime(2003, 10, 17, 19, 30, 30, tzinfo=UTC),
        Position(39.742476, -105.1786, 1830.14),
        Air(820.0, 11.0),
    )
    assert told is not None
    assert 90.0 - told.altitude_deg == pytest.approx(50.11162, abs=0.003)
    assert told.azimuth_deg == pytest.approx(194.34024, abs=0.001)
