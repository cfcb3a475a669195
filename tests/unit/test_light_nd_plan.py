from __future__ import annotations

import subprocess
import sys

import pytest

from auditor.light.exposure import parse_shutter
from auditor.light.filters import nearest_marking
from auditor.model.errors import WrongCall
from auditor.model.history import KnownFilter
from auditor.words.cautions import DARK_GROUND, FILTERS_AND_EYES
from auditor.words.nd_plan import nd_time as plan_nd_time
from auditor.words.nd_plan import scatter_text, span_text


def known(name: str, stops: float, spread: float = 0.05) -> KnownFilter:
    channels = {"R": stops - 0.1, "G": stops, "B": stops + 0.1}
    return KnownFilter(name, channels, spread, {"R": -0.1, "B": 0.1}, nearest_marking(stops), 9)


SHELF = (known("about 6 stops, warm", 6.3), known("about 10 stops, warm", 10.1))


@pytest.mark.parametrize(
    ("written", "seconds"),
    [
        ("1/30", 1 / 30), ("1/30 s", 1 / 30), ("4", 4), ("0.5s", 0.5), ("0,5", 0.5), (".5", 0.5),
        ("2m", 120), ("2 min", 120), ("1'30\"", 90), ("1′30″", 90), ("30\"", 30), ("1m30s", 90),
        ("1m30", 90), ("1h", 3600), ("1h2m3s", 3723), ("1/2.5", 0.4), ("1/8000", 1 / 8000),
    ],
)  # fmt: skip
def test_shutter_times_are_read_as_people_write_them(written: str, seconds: float) -> None:
    assert parse_shutter(written) == pytest.approx(seconds)


@pytest.mark.parametrize(
    "written",
    ["", "abc", "0", "-1", "1/0", "nan", "inf", "1e3", "30s1", "1/30m", "1h30", "2m3h", "1//2",
     "25h", "1/1e9", "１/３０"],
)  # fmt: skip
def test_what_is_no_shutter_time_is_refused_with_help(written: str) -> None:
    with pytest.raises(WrongCall, match="Write the unfiltered shutter time"):
        parse_shutter(written)


def test_the_dial_is_taken_at_its_true_time_and_says_so() -> None:
    plan = plan_nd_time("1/30", stops=[10])
    assert plan.time_s == pytest.approx(32.0)
    assert any("1/30 on the dial truly runs 1/32 s" in note for note in plan.notes)
    exact = plan_nd_time("1/30", stops=[10], exact=True)
    assert exact.time_s == pytest.approx(34.133, abs=1e-3)
    assert not any("dial" in note for note in exact.notes)


def test_filters_given_three_ways_are_stacked() -> None:
    plan = plan_nd_time("2", stops=[3], densities=[0.90309], factors=[8])
    assert plan.strength.stops == pytest.approx(9.0, abs=1e-4)
    assert plan.answer == "Bulb 17 min 5 s behind 9.0 stops (density 2.71)."
    assert plan.parts == ("3 stops", "density 0.90309", "factor 8")


def test_the_table_steps_in_thirds_round_the_shutter_asked_for() -> None:
    plan = plan_nd_time("1/8", stops=[6])
    assert [row.metered for row in plan.rows if row.asked] == ["1/8 s"]
    assert [row.metered for row in plan.rows[5:8]] == ["1/10 s", "1/8 s", "1/6 s"]
    assert [row.setting for row in plan.rows[5:8]] == ["set 6 s", "set 8 s", "set 10 s"]
    assert plan.rows[-1].setting == "set 30 s"
    assert len(plan.rows) == 13


def test_a_dial_in_half_stops_keeps_its_own_names_and_steps() -> None:
    plan = plan_nd_time("1.5", stops=[3])
    assert [row.metered for row in plan.rows[3:6]] == ["1 s", "1.5 s", "2 s"]
    assert [row.offset_stops for row in plan.rows] == [place / 2 for place in range(-4, 5)]
    assert [row.setting for row in plan.rows if row.asked] == ["set 10 s"]
    assert plan.answer.startswith("Set 10 s behind 3.0 stops"), "truly 11.3 s, the half dial's 10"
    assert any("1.5 on the dial truly runs 1.414 s" in note for note in plan.notes)


def test_the_sum_is_written_without_powers_of_ten() -> None:
    assert plan_nd_time("1", stops=[15]).formula == (
        "t × 2^stops = 1 s × 2^15.00 = 32768 s (9 h 6 min)"
    )
    fast = plan_nd_time("1/16000", stops=[4])
    assert fast.formula == "t × 2^stops = 1/16384 s × 2^4.00 = 1/1024 s"
    assert any("truly runs 1/16384 s" in note for note in fast.notes)


def test_a_stack_that_cannot_be_is_refused_as_a_stack() -> None:
    with pytest.raises(WrongCall, match="stacked would measure 45 stops"):
        plan_nd_time("1", stops=[30, 15])


def test_a_filter_of_the_history_counts_at_its_measured_density() -> None:
    plan = plan_nd_time("4", filters=["6 stops"], known=SHELF)
    assert plan.time_s == pytest.approx(4 * 2**6.3)
    assert plan.least_s == pytest.approx(4 * 2**6.25)
    assert plan.most_s == pytest.approx(4 * 2**6.35)
    assert any("+0.3 against its marking 6 stops" in note for note in plan.notes)


@pytest.mark.parametrize(
    ("name", "message"),
    [("warm", "fits several"), ("12 stops", "fits no filter"), ("", "fits no filter")],
)
def test_a_name_that_fits_not_exactly_one_filter_lists_them(name: str, message: str) -> None:
    with pytest.raises(WrongCall, match=message) as refusal:
        plan_nd_time("4", filters=[name], known=SHELF)
    assert "about 10 stops, warm" in str(refusal.value)


def test_an_empty_history_says_so() -> None:
    with pytest.raises(WrongCall, match="knows no filter yet"):
        plan_nd_time("4", filters=["6 stops"])


def test_no_filter_at_all_is_refused() -> None:
    with pytest.raises(WrongCall, match="Say which filter"):
        plan_nd_time("4")


def test_falling_light_lengthens_the_plan_until_it_cannot_be_reached() -> None:
    plan = plan_nd_time("4", stops=[6], drift_stops_per_min=-0.1)
    assert plan.time_s is not None
    assert plan.time_s > plan.steady_s == 256.0
    assert "Bulb 5 min 3 s" in [row.setting for row in plan.rows]
    hopeless = plan_nd_time("4", stops=[6], drift_stops_per_min=-1.0)
    assert hopeless.time_s is None
    assert "falls too fast" in hopeless.answer
    assert "1.6 stops short" in hopeless.answer


@pytest.mark.parametrize("drift", [float("nan"), float("inf"), 99.0])
def test_an_impossible_drift_is_refused(drift: float) -> None:
    with pytest.raises(WrongCall, match=r"--drift -0\.2"):
        plan_nd_time("4", stops=[6], drift_stops_per_min=drift)


def test_the_caution_about_eyes_stands_with_every_plan() -> None:
    assert FILTERS_AND_EYES in plan_nd_time("4", stops=[6]).cautions


def test_falling_light_brings_the_caution_about_dark_ground() -> None:
    dusk, dawn = (plan_nd_time("4", stops=[6], drift_stops_per_min=g) for g in (-0.1, 0.1))
    assert {DARK_GROUND, FILTERS_AND_EYES} <= set(dusk.cautions)
    assert DARK_GROUND not in dawn.cautions


def test_a_span_or_scatter_that_reads_as_none_is_left_out() -> None:
    assert span_text(4.9, 4.9) == span_text(4.97, 5.03) == span_text(4.9, None) == ""
    assert span_text(60.0, 64.0) == "1 min to 1 min 4 s"
    assert scatter_text(0.004) == ""
    assert scatter_text(0.05) == "one pair scatters by 0.05"


def test_planning_needs_no_array_library() -> None:
    code = "import auditor.words.nd_plan, sys; print({'numpy', 'ephem'} & {*sys.modules})"
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert told.stdout.strip() == "set()"


@pytest.mark.parametrize("steps", [1, 2, 4])
def test_a_time_shorter_than_any_dial_is_not_called_the_shortest_setting(steps: int) -> None:
    """The shortest in use is 1/32000 s, truly 2^-15 s."""
    plan = plan_nd_time(f"1/{32768 * 2**steps}", stops=[0.0], exact=True)
    assert "shorter than any dial goes" in plan.answer
    assert "Set" not in plan.answer
    assert "denser filter" in plan.answer
    assert plan_nd_time("1/32000", stops=[0.0]).answer.startswith("Set 1/32000 s")
    asked = next(row for row in plan.rows if row.asked)
    assert asked.setting == "shorter than any dial goes"


def test_scatters_of_stacked_filters_add_up_in_quadrature() -> None:
    """Independent errors: the square root of the sum of squares (JCGM 100:2008, 5.1.2)."""
    shelf = (known("six", 6.0, spread=0.3), known("ten", 10.0, spread=0.4))
    plan = plan_nd_time("1/30", filters=["six", "ten"], known=shelf)
    assert plan.least_s == pytest.approx(plan.steady_s / 2**0.5)
    assert plan.most_s == pytest.approx(plan.steady_s * 2**0.5)


@pytest.mark.parametrize(
    ("written", "name", "behind_s"),
    [("1/7", "1/7 s", 64 / 7), ("0.7", "0.7 s", 64 * 2**-0.5), ("47", "47 s", 47 * 64)],
)
def test_a_time_that_is_on_no_third_stop_dial_has_a_row_of_its_own(
    written: str, name: str, behind_s: float
) -> None:
    plan = plan_nd_time(written, stops=[6])
    asked = next(row for row in plan.rows if row.asked)
    assert asked.metered == name
    assert asked.time_s == pytest.approx(behind_s)
    if written == "1/7":
        times = {row.metered: row.time_s for row in plan.rows}
        assert times["1/8 s"] == pytest.approx(8.0), "the dial's own row keeps its own result"
        assert times["1/6 s"] == pytest.approx(2 ** (-8 / 3) * 64)
        assert [row.metered for row in plan.rows[5:8]] == ["1/8 s", "1/7 s", "1/6 s"]


def test_a_dials_time_taken_exactly_stands_beside_the_dials_own_row() -> None:
    plan = plan_nd_time("1/30", stops=[10], exact=True)
    times = {row.metered: row.time_s for row in plan.rows}
    assert times["1/30 s"] == pytest.approx(32.0)
    assert times["1/30 s exactly"] == pytest.approx(1024 / 30)


@pytest.mark.parametrize("written", ["30.2", "30.0", "0.512 s", "29,5"])
def test_a_time_written_to_three_digits_is_no_dials(written: str) -> None:
    plan = plan_nd_time(written, stops=[0])
    assert plan.exact
    assert plan.time_s == parse_shutter(written)
    assert not plan_nd_time("30", stops=[0]).exact


def test_light_that_falls_too_fast_is_answered_by_what_would_work() -> None:
    """1/8 s behind 13 stops, the light falling 0.2 stop a minute: 1024 s are needed, 433 to be had.

    Each way offered is tried: it is reached, within about a stop's fall of the light.
    """
    plan = plan_nd_time("1/8", stops=[13], drift_stops_per_min=-0.2)
    assert plan.time_s is None
    assert "open the aperture by 2.3 stops" in plan.answer
    assert "raise the ISO 5.0-fold" in plan.answer
    assert "take a filter of 10.7 stops" in plan.answer
    works = plan_nd_time("1/8", stops=[10.7], drift_stops_per_min=-0.2)
    assert works.time_s is not None
    assert works.time_s * 0.2 / 60 <= 1.05, "no longer than the light takes to fall by a stop"
    assert "4 min 34 s will do" in plan.answer
    assert works.time_s == pytest.approx(275, abs=15)


def test_ten_minutes_and_more_speak_of_light_battery_heat_and_the_dark_frame() -> None:
    short, long = plan_nd_time("1/2", stops=[10]), plan_nd_time("1", stops=[10])
    assert short.time_s == 512.0
    assert not any("battery" in note for note in short.notes)
    told = " ".join(long.notes)
    assert all(word in told for word in ("light changes", "battery", "warm sensor", "dark frame"))
    assert "34 min 10 s in all" in told, "1024 s twice"


def test_bulb_times_ask_for_a_covered_finder_and_no_correction() -> None:
    set_, bulb = plan_nd_time("1/30", stops=[10]), plan_nd_time("1/25", stops=[10])
    assert not any("finder" in note for note in set_.notes)
    told = " ".join(bulb.notes)
    assert "Cover an optical finder" in told
    assert "film's alone" in told


def test_a_filter_may_be_given_by_name_and_stops() -> None:
    plan = plan_nd_time("1/8", filters=["big = 9,7", "6 stops"], known=SHELF)
    assert plan.strength.stops == pytest.approx(16.0)
    assert plan.parts[0] == "big (9.7 stops)"


@pytest.mark.parametrize("text", ["=3", "big=", "big=x", "big=-1", "big=nan"])
def test_a_name_with_stops_that_cannot_be_is_refused(text: str) -> None:
    with pytest.raises(WrongCall):
        plan_nd_time("1/8", filters=[text])
