from __future__ import annotations

from dataclasses import replace
from datetime import datetime

import numpy as np
import pytest

from auditor.history.filters import filters_of, known_filters
from auditor.history.habits import filter_habit
from auditor.model.audit import SiblingPair
from auditor.words.history import habit_with_words
from tests.evenings import ZONE, Habits, audit_of, frame_at, pair_of

NIGHT = datetime(2031, 9, 14, 19, tzinfo=ZONE)


def pairs(
    stops: float, cast: tuple[float, float] = (0.0, 0.0), count: int = 6, seed: int = 1
) -> list[tuple[int, SiblingPair]]:
    rng = np.random.default_rng(seed)
    habits = Habits(filter_stops=stops, filter_cast=cast)
    frame = frame_at("S.dng", NIGHT)
    return [(number % 2, pair_of(frame, frame, habits, rng)) for number in range(count)]


def test_two_filters_of_one_strength_are_told_apart_by_their_cast() -> None:
    found = filters_of([*pairs(10.0, (0.0, 0.0)), *pairs(10.0, (-0.3, 0.3), seed=2)])
    names = sorted(entry.name for entry in found)
    assert names == ["about 10 stops, neutral", "about 10 stops, warm"]
    assert [entry.count for entry in found] == [6, 6]


def test_filters_of_one_cast_are_told_apart_by_their_strength() -> None:
    found = filters_of([*pairs(6.0), *pairs(9.9, seed=2), *pairs(16.0, seed=3)])
    assert [entry.stops for entry in found] == pytest.approx([6.0, 9.9, 16.0], abs=0.05)
    assert [entry.marking.stops for entry in found] == [6.0, 10.0, 16.0]


def test_namesakes_bear_their_measured_stops() -> None:
    found = filters_of([*pairs(9.7), *pairs(10.3, seed=2)])
    assert [entry.name for entry in found] == [
        f"about 10 stops, neutral ({entry.stops:.1f})" for entry in found
    ]
    assert len({entry.name for entry in found}) == 2


@pytest.mark.parametrize(
    ("stops", "red", "filters"), [(6.2, 0.0, 1), (6.3, 0.0, 2), (6.0, 0.1, 1), (6.0, 0.14, 2)]
)
def test_pairs_of_one_filter_agree_in_stops_and_in_cast(
    stops: float, red: float, filters: int
) -> None:
    ((_, pair),) = pairs(6.0, count=1)
    measured = (
        {"R": 6.0, "G": 6.0, "B": 6.0}, {"R": stops + red, "G": stops, "B": stops}
    )  # fmt: skip
    found = [replace(pair, filter_stops_by_channel=one) for one in measured for _ in range(3)]
    assert len(filters_of([(0, one) for one in found])) == filters


@pytest.mark.parametrize(("off", "told"), [(0.12, False), (0.18, True), (-0.18, True)])
def test_a_filter_is_called_off_its_marking_from_a_sixth_of_a_stop_on(
    off: float, *, told: bool
) -> None:
    (known,) = filters_of(pairs(6.0))
    known = replace(known, spread_stops=0.0, stops_by_channel={"G": 6.0 + off})
    assert (filter_habit(known) is not None) == told


def test_the_order_of_the_pairs_changes_nothing() -> None:
    mixed = [*pairs(6.2), *pairs(10.1, (-0.2, 0.2), seed=2), *pairs(6.2, (0.2, -0.2), seed=3)]
    shuffled = [mixed[place] for place in np.random.default_rng(5).permutation(len(mixed))]
    for one, other in zip(filters_of(mixed), filters_of(shuffled), strict=True):
        assert one.name == other.name
        assert one.stops_by_channel == pytest.approx(other.stops_by_channel)


def test_too_few_or_doubtful_pairs_make_no_filter() -> None:
    assert [len(filters_of(pairs(6.0, count=count))) for count in (2, 3)] == [0, 1]
    for confidence, found in ((0.4, 0), (0.6, 1)):
        told = [(shoot, replace(pair, confidence=confidence)) for shoot, pair in pairs(6.0)]
        assert len(filters_of(told)) == found
    second = [(shoot, replace(pair, best=False)) for shoot, pair in pairs(6.0)]
    assert filters_of(second) == ()
    assert filters_of([]) == ()


def test_a_stray_pair_stays_out_of_the_mean() -> None:
    stray = pairs(7.2, count=1, seed=9)
    (found,) = filters_of([*pairs(6.0, count=8), *stray])
    assert found.stops == pytest.approx(6.0, abs=0.05)
    assert found.count == 8


def test_a_monochrome_bodys_pairs_make_a_filter_without_cast() -> None:
    mono = [
        (shoot, replace(pair, filter_stops_by_channel={"L": 6.1}, cast_stops={}))
        for shoot, pair in pairs(6.1)
    ]
    (found,) = filters_of(mono)
    assert found.stops == pytest.approx(6.1)
    assert found.cast_stops == {}
    assert found.off_marking_stops == pytest.approx(0.1)


def test_a_filter_that_holds_green_back_more_is_called_magenta() -> None:
    (found,) = filters_of(pairs(5.8, (-0.1, -0.1), count=12))
    assert found.name.endswith(", magenta")


def test_filters_come_from_the_audits_best_pairs() -> None:
    rng = np.random.default_rng(3)
    frames = [frame_at(f"{kind}{n}.dng", NIGHT) for n in range(4) for kind in "SL"]
    chosen = [
        pair_of(short, long, Habits(), rng)
        for short, long in zip(frames[::2], frames[1::2], strict=True)
    ]
    (found,) = known_filters([audit_of(frames, pairs=chosen)])
    assert found.stops == pytest.approx(6.3, abs=0.06)


def test_a_weak_filters_factor_is_told_to_a_tenth() -> None:
    (known,) = filters_of(pairs(1.2, count=9))
    told = filter_habit(known)
    assert told is not None
    assert "multiply the shutter by 2.3," in habit_with_words(told).text


def test_a_filter_scatters_as_its_most_scattered_channel_does() -> None:
    reds = (5.95, 6.0, 6.05, 6.0)
    (found,) = filters_of(
        (0, replace(pair, filter_stops_by_channel={"R": red, "G": 6.0, "B": 6.0}))
        for (_, pair), red in zip(pairs(6.0, count=4), reds, strict=True)
    )
    assert found.count == 4
    assert found.spread_stops == pytest.approx(np.std(reds, ddof=1))


def test_a_filter_is_called_off_its_marking_only_beyond_twice_the_error_of_its_mean() -> None:
    (found,) = filters_of(pairs(6.3, count=9))
    assert filter_habit(replace(found, spread_stops=0.39)) is not None, "an error of 0.13"
    assert filter_habit(replace(found, spread_stops=0.6)) is None, "an error of 0.2"
