"""What an audit shows on a terminal, where nothing is a plain line."""

from __future__ import annotations

import pytest

from auditor.console.progress import ConsoleListener
from auditor.console.summary import print_summary
from auditor.model.outcome import Spent
from tests.evening_audit import Evening


@pytest.fixture(autouse=True)
def on_a_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("FORCE_COLOR", "1")
    monkeypatch.setenv("COLUMNS", "100")


def test_the_summary_tells_every_lesson_and_what_to_set_next_time(
    evening: Evening, capsys: pytest.CaptureFixture[str]
) -> None:
    print_summary(evening.end, quiet=False)
    shown = " ".join(capsys.readouterr().out.split())
    for number, _ in enumerate(evening.end.audit.lessons, 1):
        assert f"{number}." in shown
    assert "Next time" in shown
    assert "Set-up 1" in shown
    assert "f/11, ISO 100" in shown


def test_the_bar_tells_each_part_of_the_work(capsys: pytest.CaptureFixture[str]) -> None:
    with ConsoleListener(quiet=False) as listener:
        listener.found(2, 0, 0)
        listener.examined("A_0001.DNG", None)
        listener.spent(Spent(40_000_000, 0.9, 0.1))
        assert listener.bar is not None
        (measuring,) = listener.bar.tasks
        assert (measuring.completed, measuring.total) == (1, 2)
        assert "(reading is the limit)" in measuring.description
        listener.stage("Judging the frames")
        assert [task.description for task in listener.bar.tasks] == ["Judging the frames"]
        listener.drawn(3, 7)
        (drawing,) = listener.bar.tasks
        assert (drawing.completed, drawing.total) == (3, 7)
        listener.found(2, 2, 0)  # begun again, and nothing to measure
        assert not listener.bar.tasks
    assert "2 raw files." in capsys.readouterr().err


def test_no_bar_moves_where_only_problems_are_told() -> None:
    with ConsoleListener(quiet=True) as listener:
        listener.found(2, 0, 0)
        assert listener.bar is None
