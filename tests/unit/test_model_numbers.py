"""Honest rounding, stops and shutter times as one says them."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from auditor.model.numbers import (
    STOPS_PER_DENSITY,
    counted_stops,
    share_text,
    stops_between,
    stops_text,
    time_text,
    whole_share_text,
)


def test_a_ratio_with_nothing_in_it_is_no_number() -> None:
    assert stops_between(0, 1) is stops_between(1, 0) is stops_between(None, 1) is None
    assert stops_between(8, 1) == 3


def test_one_unit_of_density_is_3_32_stops() -> None:
    """IEC 60050-845: density is -log10 of transmittance."""
    assert pytest.approx(3.321928, abs=1e-6) == STOPS_PER_DENSITY


@given(st.integers(0, 10**8), st.integers(1, 10**8))
def test_nothing_and_everything_are_printed_only_where_true(part: int, whole: int) -> None:
    part = min(part, whole)
    text = share_text(part, whole)
    assert (text == "0 %") == (part == 0)
    assert (text == "100 %") == (part == whole)


def test_one_blown_pixel_never_prints_as_nothing() -> None:
    assert share_text(1, 45_000_000) == "< 0.01 %"
    assert share_text(44_999_999, 45_000_000) == "> 99.99 %"
    assert share_text(0.1234) == "12.3 %"
    assert share_text(0.0004) == "0.04 %"


@given(st.floats(-30, 30))
def test_stops_round_to_a_tenth_and_never_print_minus_nothing(stops: float) -> None:
    text = stops_text(stops)
    assert float(text.replace("−", "-")) == pytest.approx(stops, abs=0.0501)
    assert text != "−0.0"


@pytest.mark.parametrize(
    ("time_s", "text"),
    [(1 / 128, "1/128 s"), (0.5, "0.5 s"), (4, "4 s"), (30, "30 s"), (256, "4 min 16 s"),
     (3600, "1 h"), (512, "8 min 32 s"), (1024, "17 min 5 s"), (2048, "34 min 10 s"),
     (3599, "1 h"), (3725, "1 h 2 min"), (524288, "145 h 38 min"), (None, "–")],
)  # fmt: skip
def test_times_as_one_says_them(time_s: float | None, text: str) -> None:
    assert time_text(time_s) == text


@given(st.floats(1e-5, 1e6))
def test_every_time_has_words(time_s: float) -> None:
    assert time_text(time_s).split()[-1] in {"s", "min", "h"}
    assert not math.isnan(time_s)


@pytest.mark.parametrize(
    ("stops", "digits", "text"),
    [(1.44, 1, "1.4 stops"), (1.04, 1, "1.0 stop"), (-0.26, 1, "−0.3 stop"), (0.04, 1, "0.0 stops"),
     (0.104, 2, "0.10 stop"), (-1.004, 2, "−1.00 stop"), (1.5, 2, "1.50 stops"),
     (1.0, 0, "1 stop"), (1.5, 0, "1.5 stops"), (2.0, 0, "2 stops"), (None, 2, "–")],
)  # fmt: skip
def test_stops_agree_with_their_noun(stops: float | None, digits: int, text: str) -> None:
    assert counted_stops(stops, digits=digits) == text


@pytest.mark.parametrize(
    ("part", "text"),
    [(0.361, "36 %"), (0.0, "0 %"), (0.004, "< 1 %"), (0.9951, "> 99 %"), (1.0, "100 %")],
)
def test_whole_per_cent_stay_honest_at_the_ends(part: float, text: str) -> None:
    assert whole_share_text(part) == text
