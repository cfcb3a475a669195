from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from auditor.light.filters import (
    COMMON_MARKINGS,
    RARE_MARKINGS,
    FilterStrength,
    counting_text,
    drifting,
    nearest_marking,
)
from auditor.model.audit import Marking
from auditor.model.errors import WrongCall


@pytest.mark.parametrize(
    ("measured", "label"),
    [
        (6.3, "6 stops, density 1.8, ×64"),
        (6.35, "6 stops, density 1.8, ×64"),
        (6.62, "6⅔ stops, density 2.0, ×100"),
        (8.65, "8⅔ stops, density 2.6, ×400"),
        (9.97, "10 stops, density 3.0, ×1000"),
        (10.4, "10 stops, density 3.0, ×1000"),
        (0.9, "1 stop, density 0.3, ×2"),
        (16.1, "16 stops, density 4.8, ×64000"),
    ],
)
def test_a_measured_filter_gets_the_marking_it_most_likely_bears(
    measured: float, label: str
) -> None:
    assert nearest_marking(measured).label == label


@pytest.mark.parametrize("marking", COMMON_MARKINGS + RARE_MARKINGS, ids=lambda m: m.label)
def test_the_three_figures_of_a_marking_agree_within_a_tenth_of_a_stop(
    marking: Marking,
) -> None:
    by_density = FilterStrength.from_density(marking.density).stops
    by_factor = FilterStrength.from_factor(marking.factor).stops
    assert marking.stops == pytest.approx(by_density, abs=0.1)
    assert marking.stops == pytest.approx(by_factor, abs=0.1)


@pytest.mark.parametrize(
    "make",
    [
        lambda: FilterStrength.from_stops(-1),
        lambda: FilterStrength.from_stops(math.nan),
        lambda: FilterStrength.from_stops(1000),
        lambda: FilterStrength.from_density(64),
        lambda: FilterStrength.from_factor(0.5),
        lambda: FilterStrength.from_factor(math.inf),
    ],
)
def test_impossible_strengths_are_refused_with_help(make: Callable[[], FilterStrength]) -> None:
    with pytest.raises(WrongCall, match="--"):
        make()


def test_falling_light_takes_longer_and_rising_light_less() -> None:
    steady = drifting(120.0, 0.0).time_s
    falling, rising = drifting(120.0, -0.2).time_s, drifting(120.0, 0.2).time_s
    assert steady == 120.0
    assert falling is not None
    assert rising is not None
    assert rising < 120.0 < falling


def test_light_that_falls_too_fast_is_never_caught_up() -> None:
    # A stop a minute: all that is ever gathered is 60 / ln 2 = 86.56 s of steady light.
    assert drifting(86.0, -1.0).time_s is not None
    lost = drifting(2 * 86.56170245, -1.0)
    assert lost.time_s is None
    assert lost.short_stops == pytest.approx(1.0, abs=1e-6)


@pytest.mark.parametrize(
    ("time_s", "text"),
    [(256.0, "4 min 16 s"), (32.0, "32 s"), (59.7, "1 min"), (1 / 8, "1/8 s"), (1.4, "1 s"),
     (3725.2, "1 h 2 min")],
)  # fmt: skip
def test_times_are_said_as_one_counts_them(time_s: float, text: str) -> None:
    assert counting_text(time_s) == text
