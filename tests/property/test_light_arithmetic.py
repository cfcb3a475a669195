"""What must hold for any figures: filters, drift, shutter times, the sun."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from auditor.light.exposure import parse_shutter
from auditor.light.filters import FilterStrength, drifting, stacked, steady_equivalent_s
from auditor.light.nominal import nominal_times, true_time
from auditor.light.sun import sun_day, sun_position
from auditor.model.errors import WrongCall
from auditor.model.facts import Position
from auditor.model.numbers import time_text
from auditor.words.nd_plan import nd_time as plan_nd_time

stops = st.floats(0.0, 20.0)
drifts = st.floats(-2.0, 2.0)


@given(stops)
def test_the_three_figures_of_a_filter_are_one(value: float) -> None:
    strength = FilterStrength.from_stops(value)
    assert FilterStrength.from_density(strength.density).stops == pytest.approx(value)
    assert FilterStrength.from_factor(strength.factor).stops == pytest.approx(value, abs=1e-12)


@given(st.lists(st.floats(0.0, 6.0), min_size=1, max_size=4), st.floats(1e-4, 30.0))
def test_a_stack_is_its_filters_one_after_another(parts: list[float], time_s: float) -> None:
    behind = time_s
    for part in parts:
        behind = FilterStrength.from_stops(part).behind(behind)
    assert stacked(map(FilterStrength.from_stops, parts)).behind(time_s) == pytest.approx(behind)


@given(st.floats(0.01, 4000.0), drifts)
def test_the_drift_allowance_solves_its_integral(steady_s: float, drift: float) -> None:
    told = drifting(steady_s, drift)
    if told.time_s is None:
        assert drift < 0
        most = 60.0 / (-drift * math.log(2.0))
        assert most <= steady_s * (1 + 1e-12)
        assert told.short_stops == pytest.approx(math.log2(steady_s / most), abs=1e-9)
        return
    if told.time_s > 3600.0:
        return  # summing up so long a time below would not be exact enough
    moments = np.linspace(0.0, told.time_s, 20_001)
    gathered = np.trapezoid(2.0 ** (drift * moments / 60.0), moments)
    assert gathered == pytest.approx(steady_s, rel=1e-4)


@given(st.floats(0.01, 4000.0), drifts)
def test_drift_can_be_undone(time_s: float, drift: float) -> None:
    steady_s = steady_equivalent_s(time_s, drift)
    back = drifting(steady_s, drift).time_s
    if abs(drift) * time_s / 60.0 < 20.0:  # beyond that floats hold too few digits
        assert back == pytest.approx(time_s, rel=1e-6)
    else:
        assert back is None or back > 0


@given(st.sampled_from(sorted(nominal_times())))
def test_names_of_the_dial_read_back_as_their_true_times(name: str) -> None:
    assert true_time(parse_shutter(name)) == pytest.approx(nominal_times()[name])
    assert true_time(nominal_times()[name]) == pytest.approx(nominal_times()[name], rel=0.06)


@given(st.integers(1, 86_400))
def test_whole_seconds_read_back_as_they_are_said(seconds: int) -> None:
    off_s = abs(parse_shutter(time_text(float(seconds))) - seconds)
    assert off_s <= (0 if seconds < 600 else 2.5 if seconds < 3600 else 30)


@given(st.text(max_size=30))
def test_any_text_is_a_time_or_a_refusal(text: str) -> None:
    try:
        seconds = parse_shutter(text)
    except WrongCall:
        return
    assert 1e-6 <= seconds <= 86_400


@given(st.sampled_from(sorted(nominal_times())), stops, st.floats(-1.0, 1.0))
def test_every_plan_is_whole(name: str, value: float, drift: float) -> None:
    plan = plan_nd_time(name, stops=[value], drift_stops_per_min=drift)
    assert sum(row.asked for row in plan.rows) == 1
    reached = [row.time_s for row in plan.rows if row.time_s is not None]
    assert reached == sorted(reached)
    assert plan.answer
    assert (plan.time_s is None) == (plan.short_stops > 0 or "too fast" in plan.answer)


@given(
    st.floats(-66.0, 66.0),
    st.floats(-180.0, 180.0),
    st.integers(0, 365 * 40),
)
def test_the_sun_is_at_the_edge_when_it_rises_and_sets(
    latitude: float, longitude: float, days: int
) -> None:
    place = Position(latitude, longitude)
    day = sun_day(datetime(2000, 1, 1, 12, tzinfo=UTC) + timedelta(days=days), place)
    assert day is not None
    for name, edge in (("sunrise", -50 / 60), ("sunset", -50 / 60), ("civil_dusk", -6.0)):
        event = getattr(day, name)
        if event is None:
            assert name in day.stays
            continue
        told = sun_position(datetime.fromisoformat(event), place)
        assert told is not None
        # Half a second of rounding moves the sun by 0.002 degrees at most.
        assert told.altitude_deg == pytest.approx(edge, abs=0.004)
