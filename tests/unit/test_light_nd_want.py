from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from auditor.light.nd_want import MOST_MISSED_STOPS
from auditor.model.apertures import nominal_f_numbers, true_f_number
from auditor.model.errors import WrongCall
from auditor.words.nd_plan import change_text
from auditor.words.nd_plan import nd_want as plan_wanted_time


def test_a_minute_from_a_thirtieth_is_ten_stops_and_one_by_the_aperture() -> None:
    """1/32 s to 60 s are 10.9 stops; a stop closed from f/11 is f/16."""
    plan = plan_wanted_time("60s", "1/30", f_number=11, iso=100, filters=["big=10"])
    assert plan.needed_stops == pytest.approx(math.log2(60 * 32))
    best = plan.ways[0]
    assert (best.filters, best.f_number, best.iso) == (("big (10 stops)",), "16", 100)
    assert best.time_s == pytest.approx(64.0)
    assert plan.answer == "For 1 min: big (10 stops), f/16, ISO 100, Bulb 1 min 4 s."


def test_too_dense_a_filter_opens_the_aperture_and_then_raises_the_iso() -> None:
    plan = plan_wanted_time("30", "1/30", f_number=4, iso=100, filters=["big=13"])
    best = plan.ways[0]
    assert (best.f_number, best.iso) == ("2.8", 400), "a stop by the aperture, two by the ISO"
    assert best.time_s == pytest.approx(32.0)


def test_without_the_meters_aperture_the_stops_are_told() -> None:
    best = plan_wanted_time("60s", "1/30", filters=["big=10"]).ways[0]
    assert (best.f_number, best.iso) == (None, None)
    assert change_text(best) == "close the aperture by 1 stop"


def test_no_way_is_offered_that_gives_up_the_depth_for_nothing() -> None:
    """A stop closed to f/16 will do: five stops wider is no landscape any more."""
    plan = plan_wanted_time("60s", "1/30", f_number=11, iso=100)
    assert [(way.stops, way.f_number, way.iso) for way in plan.ways] == [
        (10.0, "16", 100), (13.0, "5.6", 100),
    ]  # fmt: skip
    forced = plan_wanted_time("60s", "1/30", f_number=11, iso=100, filters=["dark=15"])
    assert [(way.f_number, way.iso) for way in forced.ways] == [("2.8", 100)], "nothing else will"


def test_a_high_iso_is_lowered_to_base_and_no_further() -> None:
    way = plan_wanted_time("60s", "1/30", f_number=16, iso=400, filters=["nine=9"]).ways[0]
    assert (way.f_number, way.iso) == ("16", 100)
    stuck = plan_wanted_time("60s", "1/30", f_number=16, iso=100, filters=["nine=9"])
    assert stuck.ways == ()
    assert stuck.answer.startswith("No filter on hand gives 1 min: 10.9 stops less light")


def test_nothing_known_takes_what_is_sold_everywhere_and_says_so() -> None:
    plan = plan_wanted_time("60s", "1/30", f_number=11, iso=100)
    assert plan.ways[0].filters == ("10 stops",)
    assert "sold everywhere" in plan.notes[0]


def test_falling_light_asks_for_a_thinner_filter() -> None:
    steady = plan_wanted_time("4min", "1/8", filters=["big=10"])
    falling = plan_wanted_time("4min", "1/8", filters=["big=10"], drift_stops_per_min=-0.2)
    assert falling.needed_stops < steady.needed_stops
    assert falling.ways[0].time_s == pytest.approx(240.0, rel=0.3)


@pytest.mark.parametrize(
    ("f", "iso"), [(0.1, None), (math.nan, None), (None, 0.0), (None, math.inf)]
)
def test_a_meter_that_cannot_be_is_refused(f: float | None, iso: float | None) -> None:
    with pytest.raises(WrongCall):
        plan_wanted_time("60s", "1/30", f_number=f, iso=iso)


@given(
    wanted_s=st.floats(0.5, 1800), metered=st.sampled_from(["1/500", "1/60", "1/8", "1", "8"]),
    f=st.sampled_from(sorted(nominal_f_numbers().values())),
    iso=st.sampled_from([64, 100, 400, 6400]),
    own=st.lists(st.floats(1, 15), max_size=3),
)  # fmt: skip
def test_every_way_offered_gathers_the_light_that_was_metered(
    wanted_s: float, metered: str, f: float, iso: float, own: list[float]
) -> None:
    """Light through the filters at these settings is the meter's: ISO t / N^2 2^-stops."""
    plan = plan_wanted_time(f"{wanted_s:.6f}", metered, f_number=f, iso=iso, stops=own)
    for way in plan.ways:
        assert way.f_number is not None
        closed = 2 * math.log2(true_f_number(float(way.f_number)) / true_f_number(f))
        assert closed == pytest.approx(way.close_stops, abs=0.2)
        ratio = way.time_s / plan.metered_s * (way.iso or 0.0) / iso
        off = math.log2(ratio) - way.stops - way.close_stops
        assert abs(off) < 0.05, "names of ISO settings are rounded"
        assert abs(math.log2(way.time_s / wanted_s)) <= MOST_MISSED_STOPS + 1e-6
