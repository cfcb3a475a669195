"""Where the sun stands, and when it rises, sets and leaves the twilights. ephem lives only here.

Definitions after the U.S. Naval Observatory: at sunrise and sunset the sun's centre is 50
arc minutes under the horizon (34 for refraction, 16 for its radius); civil, nautical and
astronomical twilight end with the centre 6, 12 and 18 degrees under it. Altitudes are
geometric: refraction is left out unless the air is given.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone
from typing import Any

import ephem

from auditor.model.audit import SunDay
from auditor.model.codes import SunSide
from auditor.model.facts import Position

HORIZON_DEG = -(34.0 + 16.0) / 60.0
"""Altitude of the sun's centre at sunrise and sunset."""

LOW_SUN_DEG = 6.0
"""Up to this altitude the sun counts as low (common practice)."""

PHASES = ("night", "before sunrise", "after sunrise", "day", "before sunset", "after sunset")
"""Time against sunrise and sunset. "after sunset" runs to the end of astronomical twilight,
"before sunset" from a sun six degrees high; the mornings likewise."""

EDGES_DEG = {
    "astronomical_dawn": -18.0, "nautical_dawn": -12.0, "civil_dawn": -6.0,
    "sunrise": HORIZON_DEG, "sunset": HORIZON_DEG,
    "civil_dusk": -6.0, "nautical_dusk": -12.0, "astronomical_dusk": -18.0,
}  # fmt: skip
"""Altitude of the sun's centre at each event of a day."""

_DAWNS = ("astronomical_dawn", "nautical_dawn", "civil_dawn", "sunrise")
_STEEP_DEG = 1.276
"""Where the light of day falls by 1.3 stops a degree."""

_YEARS = range(1900, 2200)
_HALF_DAY = timedelta(hours=12, minutes=30)


@dataclass(frozen=True, slots=True)
class SunPosition:
    """The sun over one place at one moment.

    Parameters
    ----------
    altitude_deg : float
        Of its centre over the level horizon.
    azimuth_deg : float
        From north by east, 0 to 360.
    hour_angle_deg : float
        Negative before the sun's noon, positive after it.
    """

    altitude_deg: float
    azimuth_deg: float
    hour_angle_deg: float


@dataclass(frozen=True, slots=True)
class Air:
    """What bends the light, where the apparent altitude is wanted."""

    pressure_hpa: float
    temperature_c: float


def usable(moment: datetime, place: Position) -> bool:
    """Tell whether moment and place can be on this earth in this age (both come from files)."""
    angles = (place.latitude_deg, place.longitude_deg)
    if not all(math.isfinite(angle) for angle in angles):
        return False
    on_earth = abs(place.latitude_deg) <= 90 and abs(place.longitude_deg) <= 360
    return on_earth and moment.year in _YEARS


def with_zone(moment: datetime, place: Position) -> tuple[datetime, float | None]:
    """Return the moment with an offset, and the hours that were assumed for it (None: nothing).

    A clock without offset is taken to show the zone time of its longitude, a full hour for
    every fifteen degrees; summer time and political zones cannot be told.
    """
    if moment.utcoffset() is not None:
        return moment, None
    hours = max(-12, min(12, round(place.longitude_deg / 15.0)))
    return moment.replace(tzinfo=timezone(timedelta(hours=hours))), hours


def sun_position(moment: datetime, place: Position, air: Air | None = None) -> SunPosition | None:
    """Return where the sun stands.

    Parameters
    ----------
    moment : datetime
        With an offset, or naive (see :func:`with_zone`).
    place : Position
    air : Air, optional
        Gives the apparent altitude, refraction included.

    Returns
    -------
    SunPosition or None
        None where moment or place cannot be.
    """
    if not usable(moment, place):
        return None
    return _stands(with_zone(moment, place)[0], place, air)


def _stands(moment: datetime, place: Position, air: Air | None = None) -> SunPosition:
    observer = _observer(place, moment, air)
    sun = ephem.Sun(observer)
    turn = float(observer.sidereal_time()) - float(sun.ra)
    return SunPosition(
        altitude_deg=math.degrees(sun.alt),
        azimuth_deg=math.degrees(sun.az),
        hour_angle_deg=math.degrees(math.remainder(turn, math.tau)),
    )


def phase_of(position: SunPosition) -> str:
    """Name the time against sunrise and sunset, one of :data:`PHASES`."""
    altitude, evening = position.altitude_deg, position.hour_angle_deg > 0
    if altitude < -18.0:
        return "night"
    if altitude < HORIZON_DEG:
        return "after sunset" if evening else "before sunrise"
    if altitude < LOW_SUN_DEG:
        return "before sunset" if evening else "after sunrise"
    return "day"


def phase_at(moment: datetime, place: Position) -> str | None:
    """Name the time against sunrise and sunset; None where moment or place cannot be."""
    position = sun_position(moment, place)
    return None if position is None else phase_of(position)


def clear_sky_stops(altitude_deg: float) -> float:
    """Return the light of a clear sky on level ground, in stops against a sun overhead.

    ``1.15 log2 sin a`` by day; from where that falls by 1.3 stops a degree on it goes on to fall
    so, to the end of twilight. From memory: 100,000 lx overhead, 400 at sunset, 3 at the end of
    civil and 0.01 at that of nautical twilight; within a stop of all.
    """
    by_day = 1.15 * math.log2(math.sin(math.radians(max(altitude_deg, _STEEP_DEG))))
    return by_day + 1.3 * min(0.0, max(altitude_deg, -15.0) - _STEEP_DEG)


def sun_day(moment: datetime, place: Position) -> SunDay | None:
    """Return sunrise, sunset and the twilights of the moment's local day.

    Parameters
    ----------
    moment : datetime
        Any time of that day, with an offset, or naive (see :func:`with_zone`).
    place : Position

    Returns
    -------
    SunDay or None
        Times in the moment's own offset; None where moment or place cannot be.
    """
    if not usable(moment, place):
        return None
    aware, assumed_h = with_zone(moment, place)
    # the sun's upper transit nearest to twelve o'clock of the local day
    twelve = aware.replace(hour=12, minute=0, second=0, microsecond=0)
    observer = _observer(place, twelve)
    transits = (observer.previous_transit(ephem.Sun()), observer.next_transit(ephem.Sun()))
    noon = min((_utc(date) for date in transits), key=lambda time: abs(time - twelve))
    times: dict[str, Any] = {}
    stays: dict[str, SunSide] = {}
    for name in EDGES_DEG:
        event = _event(name, noon, place)
        if isinstance(event, SunSide):
            stays[name] = event
        else:
            times[name] = _iso(event, aware)
    return SunDay(
        date=aware.date().isoformat(),
        latitude_deg=place.latitude_deg,
        longitude_deg=place.longitude_deg,
        noon_at=_iso(noon, aware),
        noon_altitude_deg=_stands(noon, place).altitude_deg,
        stays=stays,
        assumed_utc_offset_h=assumed_h,
        **times,
    )


def sun_days(moments: Iterable[datetime], place: Position) -> tuple[SunDay, ...]:
    """Return one :class:`SunDay` for every local day among the moments, in order."""
    first_of_day: dict[str, datetime] = {}
    for moment in sorted(moments, key=lambda moment: moment.replace(tzinfo=None)):
        first_of_day.setdefault(moment.date().isoformat(), moment)
    days = (sun_day(moment, place) for moment in first_of_day.values())
    return tuple(day for day in days if day is not None)


def _observer(place: Position, moment: datetime, air: Air | None = None) -> Any:
    observer = ephem.Observer()
    observer.lat = math.radians(place.latitude_deg)
    observer.lon = math.radians(place.longitude_deg)
    # 0 where the height is absent, or none that a foot could reach
    height_m = place.altitude_m or 0.0
    observer.elevation = height_m if abs(height_m) < 10_000 else 0.0
    observer.pressure = air.pressure_hpa if air else 0.0
    observer.temp = air.temperature_c if air else 15.0
    observer.date = ephem.Date(moment.astimezone(UTC).replace(tzinfo=None))
    return observer


def _event(name: str, noon: datetime, place: Position) -> datetime | SunSide:
    """Return when the sun crosses an edge nearest to a noon, or where it stays."""
    observer = _observer(place, noon)
    observer.horizon = math.radians(EDGES_DEG[name])
    find: Callable[..., Any] = observer.previous_rising if name in _DAWNS else observer.next_setting
    try:
        event = _utc(find(ephem.Sun(), use_center=True))
    except ephem.AlwaysUpError:
        return SunSide.ABOVE
    except ephem.NeverUpError:
        return SunSide.BELOW
    return event if abs(event - noon) <= _HALF_DAY else SunSide.ONE_SIDE


def _utc(date: Any) -> datetime:
    moment: datetime = ephem.Date(date).datetime()
    return moment.replace(tzinfo=UTC)


def _iso(event: datetime, like: datetime) -> str:
    rounded = (event + timedelta(milliseconds=500)).replace(microsecond=0)
    return rounded.astimezone(like.tzinfo).isoformat()
