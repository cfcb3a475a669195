from __future__ import annotations

import pytest

from auditor.light.filters import nearest_marking
from auditor.light.nd_kit import LEAST_FILTER_STOPS, Kit
from auditor.model.errors import WrongCall
from auditor.model.history import KnownFilter
from auditor.words.nd_plan import nd_kit as plan_kit
from auditor.words.nd_plan import short_time


def known(name: str, stops: float, spread: float = 0.05) -> KnownFilter:
    return KnownFilter(name, {"G": stops}, spread, {}, nearest_marking(stops), 9)


SHELF = (known("about 6 stops", 6.3), known("about 10 stops, warm", 10.1, 0.12))


def cell(kit: Kit, metered: str, mark: str) -> float | None:
    column = [column.mark for column in kit.columns].index(mark)
    return next(row.times_s[column] for row in kit.rows if row.metered == metered)


def test_the_kit_is_all_that_the_history_knows_with_the_stack() -> None:
    kit = plan_kit(known=SHELF)
    assert [(c.mark, round(c.stops, 1), c.measured) for c in kit.columns] == [
        ("A", 6.3, True), ("B", 10.1, True), ("A+B", 16.4, True),
    ]  # fmt: skip
    assert kit.columns[2].spread_stops == pytest.approx(0.13), "independent spreads: 0.05, 0.12"
    assert [row.metered for row in kit.rows][:: len(kit.rows) - 1] == ["1/500 s", "8 s"]
    assert cell(kit, "1/30 s", "B") == pytest.approx(2**-5 * 2**10.1)
    assert cell(kit, "8 s", "A+B") is None, "8 d 6 h is no exposure"


def test_filters_given_stand_alone_or_beside_those_named() -> None:
    kit = plan_kit(filters=["6 stops", "three=3"], stops=[10], known=SHELF)
    assert [column.name for column in kit.columns if column.name] == [
        "three", "about 6 stops", "10 stops",
    ]  # fmt: skip
    assert [column.measured for column in kit.columns][:3] == [False, True, False]


def test_a_stack_that_says_nothing_new_takes_no_column() -> None:
    kit = plan_kit(stops=[3, 6, 9, 10])
    marks = {column.mark: column.stops for column in kit.columns}
    assert marks == {"A": 3, "B": 6, "C": 9, "D": 10, "A+C": 12, "A+D": 13, "B+C": 15, "B+D": 16}
    assert "A+B" not in marks, "nine stops are there already"
    apart = plan_kit(stops=[3, 6, 9.8])
    assert "A+B" in {column.mark for column in apart.columns}, "0.8 stop is a strength of its own"
    alike = plan_kit(stops=[3, 6, 9.6])
    assert "A+B" not in {column.mark for column in alike.columns}


def test_what_finds_no_room_is_counted() -> None:
    kit = plan_kit(filters=[f"f{n}={1.7 * n + 1:.2f}" for n in range(10)])
    assert len(kit.columns) == 8
    assert kit.left_out >= 2
    assert plan_kit(stops=[6]).left_out == 0


def test_a_filter_that_holds_next_to_nothing_takes_no_column() -> None:
    assert len(plan_kit(stops=[LEAST_FILTER_STOPS * 0.9, 6]).columns) == 1
    assert len(plan_kit(stops=[LEAST_FILTER_STOPS * 1.1, 6]).columns) == 2


def test_falling_light_lengthens_every_time_until_none_will_do() -> None:
    kit = plan_kit(stops=[10], drift_stops_per_min=-0.2)
    assert (cell(kit, "1/30 s", "A") or 0.0) > 32.0
    assert cell(kit, "8 s", "A") is None


def test_no_filter_at_all_says_how_to_name_some() -> None:
    with pytest.raises(WrongCall, match="--kit --filter six"):
        plan_kit()


@pytest.mark.parametrize(
    ("time_s", "text"),
    [
        (None, "–"), (1 / 64, "1/60"), (0.5, "0.5 s"), (32.0, "30 s"), (37.2, "37″"),
        (60.0, "1′00″"), (256.0, "4′16″"), (1023.0, "17′05″"), (7130.0, "1 h 59′"),
        (3590.0, "59′50″"),
    ],
)  # fmt: skip
def test_times_in_the_room_of_a_cell(time_s: float | None, text: str) -> None:
    assert short_time(time_s) == text
