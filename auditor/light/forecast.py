"""The light to expect at the same place the day after: when the sun stands as high again."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta

from auditor.light.sun import sun_position
from auditor.model.advice import LightForecast, NextTime
from auditor.model.audit import FrameResult, LightPoint, Setup
from auditor.model.facts import FileFacts, Position

HIGHEST_DEG, LOWEST_DEG = 20.0, -12.0
"""Round noon a day's change of height is no matter of minutes; past nautical dusk none shoots."""

REACH_MIN = 20.0
"""In which the sun stands as high again a day later: it shifts by some minutes a day, by more near
the poles, where no plan is made."""


def forecasts(
    setups: Sequence[Setup],
    light: Sequence[LightPoint],
    results: Mapping[str, FrameResult],
    place: Position | None = None,
) -> tuple[LightForecast, ...]:
    """Plan the day after the last one: a row for all settings of it, when the sun is as high.

    Parameters
    ----------
    setups : sequence of Setup
        With their settings for next time.
    light : sequence of LightPoint
        With their days.
    results : mapping of frame id to FrameResult
    place : Position, optional
        Where the files hold no position; without any there is no plan.
    """
    points = {point.frame: point for point in light}
    days = [point.day for point in light if point.day is not None]
    last = max(days, default=None)
    told: list[NextTime] = []
    rows = []
    for setup in setups:
        if setup.next_time is None or setup.next_time in told:
            continue
        point = points.get(setup.next_time.frame)
        if point is None or point.day != last:
            continue
        told.append(setup.next_time)
        advice, frame = setup.next_time, results.get(point.frame)
        where = (frame.position if frame else None) or place
        moment = FileFacts(captured_at=point.captured_at).moment
        altitude = point.sun_altitude_deg
        if where is None or moment is None or altitude is None:
            continue
        at = _as_high(moment + timedelta(days=1), altitude, where)
        if at is None:
            continue
        rows.append(
            LightForecast(
                at=at.replace(microsecond=0).isoformat(),
                setup=setup.id,
                sun_altitude_deg=round(altitude, 3),
                expected_ev100=round(point.scene_ev100, 3),
                day=point.day or "",
                time_s=advice.time_s,
                f_number=advice.f_number,
                iso=advice.iso,
                behind=advice.behind,
            )
        )
    return tuple(sorted(rows, key=lambda row: row.at))


def _as_high(near: datetime, altitude_deg: float, place: Position) -> datetime | None:
    """Return when the sun stands at an altitude, near a moment; None where it does not."""
    if not LOWEST_DEG <= altitude_deg <= HIGHEST_DEG:
        return None

    def off(minutes: float) -> float | None:
        sun = sun_position(near + timedelta(minutes=minutes), place)
        return None if sun is None else sun.altitude_deg - altitude_deg

    low, high = -REACH_MIN, REACH_MIN
    first, last = off(low), off(high)
    if first is None or last is None or first * last > 0:
        return None
    for _ in range(16):
        middle = (low + high) / 2.0
        found = off(middle)
        if found is None:
            return None
        low, high = (low, middle) if found * first <= 0 else (middle, high)
    return near + timedelta(minutes=(low + high) / 2.0)
