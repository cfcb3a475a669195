"""One reader ahead of the workers: in order, never far, and only where reading is slow."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

import pytest

from auditor.console.progress import ConsoleListener
from auditor.model.outcome import Spent
from auditor.read import ahead
from auditor.read.ahead import ReadAhead


def soon(holds: Callable[[], bool]) -> bool:
    """Wait until something holds; long, for a busy machine."""
    for _ in range(3000):
        if holds():
            return True
        time.sleep(0.01)
    return False


@pytest.fixture
def read(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The paths read, in order."""
    seen: list[str] = []

    def noted(self: ReadAhead, path: str) -> None:
        seen.append(path)

    monkeypatch.setattr(ReadAhead, "_read", noted)
    return seen


PATHS = [str(number) for number in range(12)]


def test_where_reading_is_slow_the_next_files_are_read_in_order_and_no_further(
    read: list[str],
) -> None:
    with ReadAhead(PATHS, under_way=2) as reader:
        reader.ended(reading_share=0.5)
        assert soon(lambda: read == ["3", "4"])
        for _ in range(3):
            reader.ended(reading_share=0.5)
        assert soon(lambda: read[-1] == "7")
        for _ in range(5):
            reader.ended(reading_share=0.5)
        assert soon(lambda: read[-1] == "11")
    assert read == sorted(read, key=int)
    assert len(set(read)) == len(read)


def test_where_reading_takes_no_time_nothing_is_read_ahead(read: list[str]) -> None:
    with ReadAhead(PATHS, under_way=2) as reader:
        for _ in range(4):
            reader.ended(reading_share=ahead.SLOW_SHARE * 0.66)
    assert read == []


def test_no_files_and_files_that_are_gone_trouble_nobody(tmp_path: Path) -> None:
    with ReadAhead([], under_way=2) as reader:
        reader.ended(reading_share=0.9)
    gone = [str(tmp_path / "gone")] * 9
    with ReadAhead(gone, under_way=2) as reader:
        for _ in range(9):
            reader.ended(reading_share=0.9)
        reader._read(gone[0])


def test_progress_tells_megabytes_and_which_is_the_limit() -> None:
    watch = ConsoleListener(quiet=True)
    assert watch.pace_text(10.0) == ""
    watch.spent(Spent(900_000_000, 8.0, 2.0) + Spent(100_000_000, 1.0, 0.0))
    assert watch.pace_text(10.0) == ", 100 MB/s (reading is the limit)"
    watch.spent(Spent(1_000_000_000, 1.0, 9.0))
    assert watch.pace_text(10.0) == ", 100 MB/s (decoding is the limit)"
