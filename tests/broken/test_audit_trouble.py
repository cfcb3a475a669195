"""An audit in trouble: stopped by hand, files gone, cards pulled out, nowhere to write."""

from __future__ import annotations

import errno
import json
import os
import shutil
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from auditor.audit import AuditRequest, run_audit
from auditor.model.errors import CannotWrite, FrameFailure
from tests.built_dng import write_dng
from tests.evening_audit import SilentWatch

FILES = 6


@pytest.fixture
def card(tmp_path: Path) -> Path:
    folder = tmp_path / "card"
    folder.mkdir()
    for number in range(FILES):
        noise = np.random.default_rng(number)
        pixels = noise.normal(2000 + 100 * number, 40, (96, 144)).astype(np.uint16)
        write_dng(folder / f"F45_{number:04d}.DNG", pixels)
    return folder


class ActingWatch(SilentWatch):
    """Does something once the first file is examined."""

    def __init__(self, act: Callable[[], None]) -> None:
        super().__init__()
        self._act = act

    def examined(self, file: str, failure: FrameFailure | None) -> None:
        super().examined(file, failure)
        if len(self.examined_files) == 1:
            self._act()


def request_for(card: Path, **changes: object) -> AuditRequest:
    folder = card.parent
    return AuditRequest(
        (str(card),), folder / "out", formats=("json", "csv"),
        store=folder / "store.sqlite", workers=1, **changes,  # type: ignore[arg-type]
    )  # fmt: skip


def press_the_key() -> None:
    raise KeyboardInterrupt


def test_stopped_by_hand_it_leaves_a_whole_partial_audit_and_goes_on(card: Path) -> None:
    watch = ActingWatch(press_the_key)
    partial = run_audit(request_for(card), watch)
    assert not partial.audit.complete
    assert any("same command" in text for text in watch.warnings)
    written = json.loads((card.parent / "out" / "audit.json").read_text(encoding="utf-8"))
    assert len(written["frames"]) == FILES
    states = [frame.status for frame in partial.audit.frames]
    assert states.count("measured") == 1
    errors = {frame.error.code for frame in partial.audit.frames if frame.error}
    assert errors == {"interrupted"}
    again = SilentWatch()
    whole = run_audit(request_for(card), again)
    assert whole.audit.complete
    assert len(again.examined_files) == FILES - 1
    assert all(frame.status == "measured" for frame in whole.audit.frames)


def test_a_card_pulled_out_costs_what_was_not_read_and_is_told(card: Path) -> None:
    end = run_audit(request_for(card), ActingWatch(lambda: shutil.rmtree(card)))
    assert len(end.audit.frames) == FILES
    gone = [frame for frame in end.audit.frames if frame.error is not None]
    assert gone
    assert {frame.error.code for frame in gone if frame.error} == {"vanished"}
    assert end.exit_status == 1


def test_a_file_that_came_back_is_measured_at_the_next_audit(card: Path) -> None:
    last = card / f"F45_{FILES - 1:04d}.DNG"
    content, stamp = last.read_bytes(), last.stat()
    first = run_audit(request_for(card), ActingWatch(last.unlink))
    assert first.exit_status == 1
    last.write_bytes(content)
    os.utime(last, ns=(stamp.st_atime_ns, stamp.st_mtime_ns))
    watch = SilentWatch()
    assert run_audit(request_for(card), watch).exit_status == 0
    assert watch.examined_files == [last.name]


def test_a_full_disk_leaves_the_old_report_and_says_so(
    card: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    run_audit(request_for(card), SilentWatch())
    report = card.parent / "out" / "audit.json"
    before = report.read_bytes()

    def no_room(handle: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr("auditor.files.atomic.os.fsync", no_room)
    with pytest.raises(CannotWrite, match="No space left"):
        run_audit(request_for(card), SilentWatch())
    assert report.read_bytes() == before
    assert [path.name for path in report.parent.iterdir() if path.name.endswith(".part")] == []


def test_an_output_that_is_a_file_is_refused_before_anything_is_read(card: Path) -> None:
    (card.parent / "out").write_text("a file", encoding="utf-8")
    watch = SilentWatch()
    with pytest.raises(CannotWrite):
        run_audit(request_for(card), watch)
    assert watch.examined_files == []
    assert not (card.parent / "store.sqlite").exists()
