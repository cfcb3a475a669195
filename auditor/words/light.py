"""The sentences of light and sun: how fast it changed, what to expect the day after."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from auditor.advise.limits import STEADY_STOPS_PER_MIN
from auditor.light.sun import EDGES_DEG
from auditor.model.advice import LightForecast, NextTime
from auditor.model.audit import Audit, LightPoint, SunDay
from auditor.model.facts import FileFacts
from auditor.model.numbers import counted_stops, stops_text
from auditor.words.next_time import next_times

SUN_MOVED_DEG = 0.5
"""The sun's own width: less is no way."""


def light_lines(light: Sequence[LightPoint]) -> list[str]:
    """Say of each day how fast the light changed, by what is static; nothing where nothing tells.

    Returns
    -------
    list of str
        "The light fell by 0.09 stop a minute at 18:49 and by 0.20 stop at 19:41, as the sun went
        from 3.0° to −4.6°."
    """
    days: dict[str, list[LightPoint]] = {}
    for point in light:
        if point.day is not None:
            days.setdefault(point.day, []).append(point)
    lines = []
    for day, points in sorted(days.items()):
        told = [p for p in points if p.chain is not None and p.drift_stops_per_min is not None]
        if not told:
            continue
        first, last = told[0], told[-1]
        rates = first.drift_stops_per_min or 0.0, last.drift_stops_per_min or 0.0
        way = "fell " if max(rates) < 0 else "rose " if min(rates) > 0 else ""
        text = f"{_rate(rates[0], 'The light ')} at {_clock(first.captured_at)}"
        if abs(rates[1] - rates[0]) >= STEADY_STOPS_PER_MIN:
            later = _rate(rates[1], "").removeprefix(way).removesuffix(" a minute" if way else "")
            text += f" and {later} at {_clock(last.captured_at)}"
        suns = first.sun_altitude_deg, last.sun_altitude_deg
        if suns[0] is not None and suns[1] is not None and abs(suns[1] - suns[0]) >= SUN_MOVED_DEG:
            text += f", as the sun went from {stops_text(suns[0])}° to {stops_text(suns[1])}°"
        lines.append(f"{text}." if len(days) == 1 else f"{day}: {text}.")
    return lines


def _rate(rate: float, subject: str) -> str:
    if abs(rate) < STEADY_STOPS_PER_MIN:
        return f"{subject}was steady"
    way = "fell" if rate < 0 else "rose"
    return f"{subject}{way} by {counted_stops(abs(rate), digits=2)} a minute"


def _clock(text: str | None) -> str:
    moment = FileFacts(captured_at=text).moment
    return "" if moment is None else moment.strftime("%H:%M")


def forecast_text(row: LightForecast) -> str:
    """Say when: "19:17, sun −1.3°, EV 7.6"."""
    sun = f", sun {stops_text(row.sun_altitude_deg)}°" if row.sun_altitude_deg is not None else ""
    return f"{_clock(row.at)}{sun}, EV {stops_text(row.expected_ev100)}"


def forecast_of(advice: NextTime, audit: Audit) -> str:
    """Say when the light of some settings comes again; empty where that cannot be planned."""
    ids = {setup.id for setup in audit.setups if setup.next_time == advice}
    return next((forecast_text(row) for row in audit.forecast if row.setup in ids), "")


def forecast_lines(audit: Audit) -> Iterator[str]:
    """Say when the light of each set-up comes again, and the settings advised for it."""
    told = next_times(audit.setups)
    advised = {setup.id: setup.next_time for setup in audit.setups}
    for row in audit.forecast:
        for setups, advice in told:
            if advice == advised.get(row.setup):
                yield f"{forecast_text(row)}: {setups}: {advice.text}."


FORECAST_NOTE = "In the same weather, when the sun stands as high again."
"""What a plan for the day after takes for granted."""


def sun_day_with_words(day: SunDay) -> SunDay:
    """Say why an event does not come, and what was taken for granted of the clock."""
    reasons = {}
    for name, side in day.stays.items():
        edge = "the horizon"
        if name not in ("sunrise", "sunset"):
            edge = f"{-EDGES_DEG[name]:.0f}° under {edge}"
        reasons[name] = f"The sun stays {side} {edge} all that day and night at this latitude."
    if day.assumed_utc_offset_h is None:
        return replace(day, reasons=reasons)
    assumption = (
        f"The file holds no offset from UTC; its clock is taken as "
        f"UTC{day.assumed_utc_offset_h:+03.0f}:00 from the longitude, so times against the sun may "
        "be an hour or two off."
    )
    return replace(day, reasons=reasons, assumption=assumption)
