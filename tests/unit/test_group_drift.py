"""Falling light or a filter: the decision on levels alone, and where an exposure lies."""

from __future__ import annotations

import math

import numpy as np
import pytest

from auditor.group.drift import Series, between, filtered, mean_over_middle, moments
from auditor.group.pace import pace_of

LEAST = 0.8


def flags(*frames: tuple[float, float, float]) -> list[bool]:
    """Flag frames given as (minute, shutter time, level)."""
    minute, time_s, level = (np.array(column, dtype=float) for column in zip(*frames, strict=True))
    return [bool(flag) for flag in filtered(Series(minute * 60.0, time_s, level), LEAST)]


def test_a_filter_between_two_frames() -> None:
    assert flags((0, 0.1, 0), (2, 100, -10), (4, 0.1, 0)) == [False, True, False]


def test_a_filter_at_the_end_and_at_the_beginning() -> None:
    assert flags((0, 0.1, 0), (2, 8, -6)) == [False, True]
    assert flags((0, 8, -6), (2, 0.1, 0)) == [True, False]


def test_several_tries_with_one_short_frame() -> None:
    assert flags((0, 0.1, 0), (1, 8, -6), (3, 16, -6), (8, 100, -10)) == [False, True, True, True]


def test_dusk_is_no_filter_however_long_the_times_grow() -> None:
    falling = [(m, 0.1 * 2 ** (0.25 * m), -0.25 * m) for m in (0, 4, 11, 20, 28, 35, 50, 60)]
    assert not any(flags(*falling))


def test_a_filter_in_falling_light_is_seen_by_what_lies_on_both_sides() -> None:
    assert flags((0, 0.1, 0), (5, 2, -4.25), (10, 0.4, -2.5)) == [False, True, False]


def test_a_longer_frame_at_the_same_level_is_only_longer() -> None:
    assert not any(flags((0, 0.1, 0), (1, 8, 0), (2, 0.1, 0)))


def test_a_darker_frame_that_is_no_longer_is_a_cloud() -> None:
    assert not any(flags((0, 0.1, 0), (0.2, 0.1, -3), (0.4, 0.1, 0)))


def test_light_that_drops_and_stays_down_is_no_filter() -> None:
    dropped = [(0, 0.1, 0), (0.3, 0.1, 0), (0.7, 0.2, -1), (1.0, 0.2, -1), (1.6, 0.2, -1)]
    assert not any(flags(*dropped))


def test_a_weak_filter_is_told_where_it_came_and_went() -> None:
    assert flags((0, 0.5, 0), (0.4, 1, -1), (0.9, 0.5, 0)) == [False, True, False]


def test_unknown_levels_and_times_flag_nothing() -> None:
    assert not any(flags((0, 0.1, math.nan), (1, 8, -6), (2, 0.0, 0)))


def test_without_a_clock_two_minutes_pass_from_frame_to_frame() -> None:
    assert list(moments([None, 5.0, None])) == [0.0, 120.0, 240.0]
    assert list(moments([3.0, 5.0])) == [3.0, 5.0]


@pytest.mark.parametrize("change", [-3.0, -0.5, 0.0, 1.0])
def test_mean_light_over_an_exposure_against_its_middle(change: float) -> None:
    at = (np.arange(20000) + 0.5) / 20000 - 0.5
    mean = float(np.log2(np.mean(2.0 ** (change * at))))
    assert mean_over_middle(change) == pytest.approx(mean, abs=1e-6)


def test_an_exposure_between_two_others() -> None:
    place = between(0.0, 400.0, 100.0, 200.0, -2.0)
    assert place.weight_after == pytest.approx(0.25)
    assert place.mean_stops == pytest.approx(mean_over_middle(-1.0))


def test_the_pace_of_the_light_comes_from_unfiltered_frames_only() -> None:
    series = Series(
        np.array([0.0, 120.0, 240.0, 400.0]),
        np.array([0.1, 100.0, 0.1, 0.1]),
        np.array([0.0, -10.3, -0.4, -0.4 - 160 / 600]),
    )
    pace = pace_of([(series, np.array([False, True, False, False]))])
    assert pace.rate_at(200.0) == pytest.approx(-1 / 600, rel=1e-6)
    assert pace.rate_at(9000.0) is None, "too far away to tell"


def test_flickering_light_tells_no_pace() -> None:
    level = np.array([0.0, -1.0, 0.3, -0.9, 0.2])
    series = Series(np.array([0.0, 60.0, 120.0, 180.0, 240.0]), np.full(5, 0.1), level)
    assert pace_of([(series, np.zeros(5, dtype=bool))]).rate_at(120.0) is None
