"""Filter arithmetic against published tables; the source stands beside each check."""

from __future__ import annotations

import pytest

from auditor.light.filters import FilterStrength, counting_text, nearest_marking, stacked
from auditor.light.nominal import nominal_times
from auditor.words.nd_plan import nd_time as plan_nd_time

# Table at opticalglasscn.com/ND.php (named by factor), camera-wiki.org; figures recomputed.
BY_FACTOR = {
    2: 1.0, 4: 2.0, 8: 3.0, 16: 4.0, 32: 5.0, 64: 6.0, 100: 6.6439, 200: 7.6439, 400: 8.6439,
    500: 8.9658, 1000: 9.9658, 2000: 10.9658, 4000: 11.9658, 32000: 14.9658, 64000: 15.9658,
    100000: 16.6096, 1000000: 19.9316,
}  # fmt: skip

# IEC 60050-845: D = -log10 T; the stops of named densities recomputed from it.
BY_DENSITY = {
    0.3: 0.9966, 0.6: 1.9932, 0.9: 2.9897, 1.2: 3.9863, 1.5: 4.9829, 1.8: 5.9795, 2.0: 6.6439,
    2.1: 6.9760, 2.4: 7.9726, 2.7: 8.9692, 3.0: 9.9658, 3.6: 11.9589, 4.5: 14.9487, 6.0: 19.9316,
}  # fmt: skip


@pytest.mark.parametrize(("factor", "stops"), BY_FACTOR.items())
def test_stops_of_filters_named_by_factor(factor: float, stops: float) -> None:
    assert FilterStrength.from_factor(factor).stops == pytest.approx(stops, abs=5e-5)


@pytest.mark.parametrize(("density", "stops"), BY_DENSITY.items())
def test_stops_of_filters_named_by_density(density: float, stops: float) -> None:
    assert FilterStrength.from_density(density).stops == pytest.approx(stops, abs=5e-5)


def test_transmittance_of_densities() -> None:
    # edmundoptics.com FAQ: T = 10^-OD; itos.de glass table: 3.0 -> 0.10 %, 2.3 -> 0.50 %,
    # 5.0 -> 0.001 %.
    for density, percent in ((3.0, 0.10), (2.3, 0.50), (5.0, 0.001)):
        transmitted = 100.0 / FilterStrength.from_density(density).factor
        assert transmitted == pytest.approx(percent, rel=0.01)


def test_ten_stops_are_a_density_of_just_over_three() -> None:
    # opticalglasscn.com: "ND1024 (also called ND1000) 3 10 0.098 %".
    ten = FilterStrength.from_stops(10)
    assert ten.density == pytest.approx(3.0103, abs=5e-5)
    assert 100.0 / ten.factor == pytest.approx(0.098, abs=5e-4)
    assert (ten.factor, nearest_marking(9.97).label) == (
        1024.0,
        "10 stops, density 3.0, ×1000",
    )


def test_stacking_adds_densities_and_multiplies_factors() -> None:
    # sk-advanced.com; liquisearch.com filter_factor: 0.9 + 1.8 = 2.7, x8 x x64 = x512.
    by_density = stacked([FilterStrength.from_density(0.9), FilterStrength.from_density(1.8)])
    assert by_density.density == pytest.approx(2.7)
    by_factor = stacked([FilterStrength.from_factor(8), FilterStrength.from_factor(64)])
    assert by_factor.factor == pytest.approx(512)
    assert by_factor.stops == pytest.approx(9)


def test_six_stops_on_four_seconds() -> None:
    # Common practice: four seconds behind six stops are 4 min 16 s.
    assert counting_text(FilterStrength.from_stops(6).behind(4.0)) == "4 min 16 s"
    assert plan_nd_time("4", stops=[6]).rows[6].setting == "Bulb 4 min 16 s"


@pytest.mark.parametrize(
    ("metered_s", "stops", "behind_s"),
    [
        (2.0, 6, 128.0),  # annalsofamerica.com
        (1 / 125, 10, 8.192),  # widebrightsun.wordpress.com
        (1 / 30, 10, 34.133),  # jessops.com: nominal 1/30 by x1024
        (nominal_times()["1/30"], 10, 32.0),  # the doubling list there runs on to 32 s
        (nominal_times()["1/250"], 10, 4.0),  # alisonjones.com chart
        (1.0, 15, 32768.0),  # recomputed: 2^15
    ],
)
def test_published_shutter_times(metered_s: float, stops: float, behind_s: float) -> None:
    assert FilterStrength.from_stops(stops).behind(metered_s) == pytest.approx(behind_s, rel=1e-4)


def test_fifteen_stops_on_a_second_are_over_nine_hours() -> None:
    # Recomputed: 2^15 s (the 8 h 32 min of the chart at chip.pl are 30720 s).
    assert counting_text(FilterStrength.from_stops(15).behind(1.0)) == "9 h 6 min"


def test_doubling_list_from_a_thirtieth() -> None:
    # jessops.com doubling list: 1/30 -> 1/15 -> 1/8 -> 1/4 -> 1/2 -> 1 s -> 2 s at stop 6.
    named = ["1/15 s", "1/8 s", "1/4 s", "0.5 s", "1 s", "2 s", "4 s", "8 s", "15 s", "30 s"]
    told = [plan_nd_time("1/30", stops=[stop]).rows[6].setting for stop in range(1, 11)]
    assert told == [f"set {name}" for name in named]
