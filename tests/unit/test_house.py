"""The house stays readable: bounds that are only ever lowered, with room for a day's work."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.house import House, helpers_of, loose_numbers, measure, report
from tests.stops import stops


@pytest.fixture(scope="module")
def house() -> House:
    return measure()


def test_no_more_helpers_are_used_once(house: House) -> None:
    assert house.share_used_once <= 0.49, report(house)


def test_files_are_no_emptier(house: House) -> None:
    assert house.median_file >= 155, report(house)
    assert len(house.short_files) <= 25, house.short_files


def test_no_new_threshold_stands_beside_the_tables_of_limits() -> None:
    found = loose_numbers()
    assert len(found) <= 17, found


def test_one_value_is_followed_from_file_to_page_in_few_stops() -> None:
    met = stops()
    assert len(met) < 49, met
    assert [file for file, _ in met if file.startswith(("sensor", "store", "figures", "report"))]


def test_a_helper_is_counted_where_it_is_named() -> None:
    path = Path(__file__).parents[2] / "auditor" / "made_up.py"
    text = (
        "def _once():\n    return 1\n\ndef _twice():\n    return _once()\n\n"
        "class A:\n    def _part(self):\n        return _twice()\n\n"
        "    def whole(self):\n        return self._part() + _twice()\n"
    )
    uses = {helper.name: (helper.uses, helper.lines) for helper in helpers_of(path, text)}
    assert uses == {"_once": (1, 2), "_twice": (2, 2), "_part": (1, 2)}
