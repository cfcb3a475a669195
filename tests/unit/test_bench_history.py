"""What the benches keep: every row once a release and day, and a picture of those promised."""

from __future__ import annotations

from pathlib import Path

from tests.bench.history import draw, keep, kept
from tests.bench.table import Row, page


def test_a_row_measured_again_takes_the_place_of_its_own_and_of_no_other(tmp_path: Path) -> None:
    path = tmp_path / "history.json"
    keep([Row("a", "", 0.5, 1.0, load=2.0), Row("b", "", 7.0)], path)
    (run,) = keep([Row("a", "slower", 1.5, 1.0, load=9.0)], path)
    assert kept(path) == [run]
    assert [(row.what, row.figure, row.load) for row in run.rows] == [
        ("a", 1.5, 9.0),
        ("b", 7.0, None),
    ]


def test_another_machine_on_the_same_day_is_a_run_of_its_own(tmp_path: Path) -> None:
    path = tmp_path / "history.json"
    keep([Row("a", "", 0.5)], path, machine=("one core",))
    assert len(keep([Row("a", "", 0.6)], path, machine=("two cores",))) == 2


def test_what_is_missed_is_said_plainly() -> None:
    rows = [Row("a", "", 1.5, 1.0), Row("b", "", 1.9, 1.9, at_least=True), Row("c", "free")]
    assert [row.cells()[4] for row in rows] == ["not met", "yes", ""]
    assert "| a |  | 1.5 | ≤ 1 | not met |  |" in page(rows, "2031-09-15", ["a machine"])


def test_the_picture_shows_each_promise_and_runs_that_lack_it(tmp_path: Path) -> None:
    path = tmp_path / "history.json"
    keep([Row("a", "", 0.5, 1.0)], path, machine=("one core",))
    draw(keep([Row("a", "", 0.6, 1.0), Row("b", "", 2.0, 3.0)], path), tmp_path / "speed.svg")
    drawn = (tmp_path / "speed.svg").read_text(encoding="utf-8")
    assert ">a<" in drawn
    assert ">b<" in drawn
