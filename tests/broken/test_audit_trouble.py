"""An audit in trouble: stopped by hand, files gone, cards pulled out, nowhere to write."""

from __future__ import annotations

import errno
import json
import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from auditor.api import audit_shoot
from auditor.audit import run_audit
from auditor.model.codes import FrameStatus
from auditor.model.errors import CannotWrite, FrameFailure, WrongCall
from auditor.request import AuditRequest
from auditor.store.store import Store
from tests.built_dng import write_dng
from tests.evening_audit import KeepingListener

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


class ActingListener(KeepingListener):
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
    listener = ActingListener(press_the_key)
    partial = run_audit(request_for(card), listener)
    assert not partial.audit.complete
    assert any("same command" in text for text in listener.warnings)
    written = json.loads((card.parent / "out" / "audit.json").read_text(encoding="utf-8"))
    assert len(written["frames"]) == FILES
    states = [frame.status for frame in partial.audit.frames]
    assert states.count(FrameStatus.MEASURED) == 1
    errors = {frame.error.code for frame in partial.audit.frames if frame.error}
    assert errors == {"interrupted"}
    again = KeepingListener()
    whole = run_audit(request_for(card), again)
    assert whole.audit.complete
    assert len(again.examined_files) == FILES - 1
    assert all(frame.status == FrameStatus.MEASURED for frame in whole.audit.frames)


def test_stopped_while_the_store_writes_the_file_is_measured_again(
    card: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    put, calls = Store.put, iter(range(100))

    def pressed(store: Store, *given: Any) -> None:
        if next(calls) == 2:
            press_the_key()
        put(store, *given)

    monkeypatch.setattr(Store, "put", pressed)
    partial = run_audit(request_for(card), KeepingListener()).audit
    assert not partial.complete
    assert [frame.status for frame in partial.frames].count(FrameStatus.MEASURED) == 2
    again = KeepingListener()
    assert run_audit(request_for(card), again).audit.complete
    assert len(again.examined_files) == FILES - 2


def test_stopped_before_measuring_the_command_says_so_and_writes_nothing(card: Path) -> None:
    program = (
        "import os, signal, auditor.audit as audit\n"
        # a suite run in the background hands the key down as ignored
        "signal.signal(signal.SIGINT, signal.default_int_handler)\n"
        "def stop(paths):\n    os.kill(os.getpid(), signal.SIGINT)\n    raise AssertionError\n"
        "audit.find_files = stop\n"
        "from auditor.cli import main\n"
        "main()\n"
    )
    before = {path: path.read_bytes() for path in card.parent.rglob("*") if path.is_file()}
    out = str(card.parent / "out")
    ended = subprocess.run(
        [sys.executable, "-c", program, "audit", str(card), "--out", out, "--no-store"],
        capture_output=True, text=True, timeout=60, check=False,
    )  # fmt: skip
    assert ended.returncode == 130
    assert ended.stdout == ""
    assert ended.stderr == "auditor: stopped. Every report is whole, or as it was before.\n"
    after = {path: path.read_bytes() for path in card.parent.rglob("*") if path.is_file()}
    assert after == before


def test_a_card_pulled_out_costs_what_was_not_read_and_is_told(card: Path) -> None:
    end = run_audit(request_for(card), ActingListener(lambda: shutil.rmtree(card)))
    assert len(end.audit.frames) == FILES
    gone = [frame for frame in end.audit.frames if frame.error is not None]
    assert gone
    assert {frame.error.code for frame in gone if frame.error} == {"vanished"}
    assert end.exit_status == 1


def with_copies(card: Path) -> AuditRequest:
    """Ask for the card and for another that holds the same."""
    other = shutil.copytree(card, card.parent / "other")
    return replace(request_for(card), paths=(str(card), str(other)))


def test_copies_on_another_card_are_read_where_one_was_pulled_out(card: Path) -> None:
    listener = ActingListener(lambda: shutil.rmtree(card))
    end = run_audit(with_copies(card), listener)
    first, second = ([f for f in end.audit.frames if f.input == place] for place in (0, 1))
    lost = [frame.file for frame in first if frame.status == FrameStatus.UNREADABLE]
    assert lost, "the first card was pulled out"
    assert {frame.error.code for frame in first if frame.error} == {"vanished"}
    assert [frame.status for frame in second] == ["measured"] * FILES
    assert end.audit.complete
    assert end.exit_status == 1


def test_stopped_between_two_cards_every_copy_is_accounted_for(card: Path) -> None:
    def pull_out_and_stop() -> None:
        shutil.rmtree(card)
        listener.key_after = len(listener.examined_files) + FILES // 2

    class Stopping(ActingListener):
        key_after = 2 * FILES

        def examined(self, file: str, failure: FrameFailure | None) -> None:
            super().examined(file, failure)
            if len(self.examined_files) >= self.key_after:
                press_the_key()

    listener = Stopping(pull_out_and_stop)
    end = run_audit(with_copies(card), listener)
    assert not end.audit.complete
    assert len(end.audit.frames) == 2 * FILES
    codes = [frame.error.code for frame in end.audit.frames if frame.error]
    assert {"vanished", "interrupted"} >= set(codes) >= {"interrupted"}
    assert run_audit(with_other(card), KeepingListener()).audit.complete


def with_other(card: Path) -> AuditRequest:
    return replace(request_for(card), paths=(str(card.parent / "other"),))


def test_a_file_that_came_back_is_measured_at_the_next_audit(card: Path) -> None:
    last = card / f"F45_{FILES - 1:04d}.DNG"
    content, stamp = last.read_bytes(), last.stat()
    first = run_audit(request_for(card), ActingListener(last.unlink))
    assert first.exit_status == 1
    last.write_bytes(content)
    os.utime(last, ns=(stamp.st_atime_ns, stamp.st_mtime_ns))
    listener = KeepingListener()
    assert run_audit(request_for(card), listener).exit_status == 0
    assert listener.examined_files == [last.name]


def test_a_full_disk_leaves_the_old_report_and_says_so(
    card: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    run_audit(request_for(card), KeepingListener())
    report = card.parent / "out" / "audit.json"
    before = report.read_bytes()

    def no_room(handle: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr("auditor.files.atomic.os.fsync", no_room)
    with pytest.raises(CannotWrite, match="No space left"):
        run_audit(request_for(card), KeepingListener())
    assert report.read_bytes() == before
    assert [path.name for path in report.parent.iterdir() if path.name.endswith(".part")] == []


def test_an_output_that_is_a_file_is_refused_before_anything_is_read(card: Path) -> None:
    (card.parent / "out").write_text("a file", encoding="utf-8")
    listener = KeepingListener()
    with pytest.raises(CannotWrite):
        run_audit(request_for(card), listener)
    assert listener.examined_files == []
    assert not (card.parent / "store.sqlite").exists()


def nothing_done(card: Path) -> bool:
    """Whether neither reports nor a store were begun."""
    return sorted(path.name for path in card.parent.iterdir()) == ["card"]


def test_a_name_that_is_too_long_is_refused_before_anything_is_read(card: Path) -> None:
    with pytest.raises(CannotWrite, match="--out"):
        run_audit(replace(request_for(card), out=card.parent / ("n" * 300)), KeepingListener())
    assert nothing_done(card)


def test_a_target_that_may_not_be_written_is_refused_before_anything_is_read(
    card: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(os, "access", lambda path, mode: Path(path) != card.parent)
    with pytest.raises(CannotWrite, match="read-only"):
        run_audit(request_for(card), KeepingListener())
    assert nothing_done(card)


def test_links_in_a_ring_are_refused_as_path_and_as_target(card: Path) -> None:
    ring = card.parent / "ring"
    ring.symlink_to(ring)
    with pytest.raises(WrongCall, match="ring"):
        run_audit(request_for(ring), KeepingListener())
    with pytest.raises(CannotWrite, match="not a folder"):
        run_audit(replace(request_for(card), out=ring), KeepingListener())


def test_a_store_never_lands_on_the_card(card: Path) -> None:
    with pytest.raises(WrongCall, match="--store"):
        run_audit(replace(request_for(card), store=card / "store.sqlite"), KeepingListener())
    assert len(list(card.iterdir())) == FILES


def test_reports_without_a_folder_are_refused_rather_than_thrown_away(card: Path) -> None:
    with pytest.raises(WrongCall, match="out"):
        audit_shoot([card], formats=("json",))


def test_files_that_cannot_be_opened_are_told_of_the_right_card(card: Path) -> None:
    other = card.parent / "other"
    other.mkdir()
    for folder in (card, other):
        (folder / "F45_0099.DNG").touch()
    request = replace(request_for(card), paths=(str(card), str(other)))
    frames = run_audit(request, KeepingListener()).audit.frames
    bad = [(frame.input, frame.file) for frame in frames if frame.error is not None]
    assert bad == [(0, "F45_0099.DNG"), (1, "F45_0099.DNG")]
