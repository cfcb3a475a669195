"""The line on pixels that stay hot."""

from __future__ import annotations

from dataclasses import replace

import pytest

from auditor.model.audit import LastingHotPixels
from auditor.words.page import MOST_NAMED, lasting_lines
from tests.builders import make_audit
from tests.html_page import as_markdown

AUDIT = make_audit(4)[0]
PLACES = tuple((row, 7) for row in range(9))


def lines(*lasting: LastingHotPixels) -> tuple[str, ...]:
    return tuple(lasting_lines(replace(AUDIT, lasting_hot_pixels=lasting)))


def test_places_are_named_with_how_often_they_were_hot() -> None:
    (line,) = lines(LastingHotPixels("Brackwell F45 7", 14, 2, ((40, 7), (3, 3)), (5, 3)))
    assert line == (
        "Brackwell F45 7: 2 pixels stay hot from view to view, in 14 frames looked at. "
        "Row/column: 40/7 (5 frames), 3/3 (3 frames)."
    )


@pytest.mark.parametrize("count", [MOST_NAMED, MOST_NAMED + 1])
def test_of_many_only_the_count_is_told_and_where_to_look(count: int) -> None:
    (line,) = lines(LastingHotPixels("Brackwell F45 7", 14, count, PLACES[:count], (4,) * count))
    assert f" {count} pixels stay hot" in line
    assert line.count("(4 frames)") == (count if count == MOST_NAMED else 0)
    assert line.endswith("audit.json.") == (count > MOST_NAMED)


def test_one_line_a_body_and_none_without_any() -> None:
    one = LastingHotPixels("Brackwell F45 7", 14, 1, ((40, 7),), (3,))
    assert len(lines(one, replace(one, body="Brackwell F24 2"))) == 2
    assert "1 pixel stays" in lines(one)[0]
    assert lines() == ()


def test_sensors_of_one_body_are_told_apart_by_name() -> None:
    one = LastingHotPixels("Brackwell F45 7", 14, 1, ((40, 7),), (3,), "bayer 6000 × 4000, 14 bit")
    told = lines(one, replace(one, sensor="bayer 4000 × 3000, 12 bit"))
    assert [line.partition(":")[0] for line in told] == [
        "Brackwell F45 7 (bayer 6000 × 4000, 14 bit)",
        "Brackwell F45 7 (bayer 4000 × 3000, 12 bit)",
    ]
    assert lines(one)[0].startswith("Brackwell F45 7: ")


def test_the_report_says_so() -> None:
    one = LastingHotPixels("Brackwell F45 7", 14, 1, ((40, 7),), (3,))
    report = as_markdown(replace(AUDIT, lasting_hot_pixels=(one,)), {})
    assert "Brackwell F45 7: 1 pixel stays hot" in report
