"""Killed at any moment, the next run goes on where it was, and ends as if nothing had been."""

from __future__ import annotations

import json
import os
import random
import shutil
import signal
import threading
from dataclasses import replace
from multiprocessing import get_context
from pathlib import Path

import pytest

from auditor.audit import run_audit
from auditor.model.audit import Audit
from auditor.model.errors import FrameFailure
from auditor.request import AuditRequest
from tests.evening_audit import Evening, KeepingListener

KILLS = 20
UNPAIRED = {"bracket", "blown", "dark frame", "cut off"}


class LoggingListener(KeepingListener):
    """Writes down each file as soon as its measurement is kept; one that failed is opened again."""

    def __init__(self, log: Path) -> None:
        super().__init__()
        self._log = log

    def examined(self, file: str, failure: FrameFailure | None) -> None:
        with self._log.open("a", encoding="utf-8") as stream:
            stream.write(f"{file}\n" if failure is None else "")


def request_for(paths: tuple[str, ...], folder: Path) -> AuditRequest:
    return AuditRequest(
        paths, folder / "out", formats=("json",), store=folder / "store.sqlite", workers=2
    )


def audit_until_killed(request: AuditRequest, log: Path, after_s: float) -> None:
    timer = threading.Timer(after_s, os.kill, (os.getpid(), signal.SIGKILL))
    timer.daemon = True
    timer.start()
    run_audit(request, LoggingListener(log))


def unpaired_files(evening: Evening) -> tuple[str, ...]:
    """Frames of the evening without filters, so that nothing depends on remembered ones."""
    names = {frame["name"] for frame in evening.truth["frames"] if set(frame["kinds"]) & UNPAIRED}
    files = sorted((evening.root / evening.truth["cards"][0]).rglob("*.DNG"))
    chosen = tuple(str(path) for path in files if path.stem in names)
    return (*chosen[:8], chosen[-1])


def told(audit: Audit) -> Audit:
    """The audit but for the moment at which it was made."""
    return replace(audit, made_at="")


@pytest.mark.slow
def test_killed_at_twenty_random_moments_the_audit_ends_the_same(
    evening: Evening, tmp_path: Path
) -> None:
    files = unpaired_files(evening)
    assert len(files) >= 8
    (tmp_path / "calm").mkdir()
    undisturbed = run_audit(request_for(files, tmp_path / "calm"), KeepingListener()).audit
    context = get_context("forkserver")
    context.set_forkserver_preload(["tests.end_to_end.test_audit_killed"])
    chance = random.Random(20)
    kills, completed, folder = 0, 0, tmp_path / "0"
    while kills < KILLS:
        folder.mkdir(exist_ok=True)
        request, log = request_for(files, folder), folder / "log"
        after_s = chance.uniform(0.05, 2.0)
        process = context.Process(target=audit_until_killed, args=(request, log, after_s))
        process.start()
        process.join()
        whole_or_absent(folder / "out" / "audit.json")
        if process.exitcode == -signal.SIGKILL:
            kills += 1
            continue
        assert process.exitcode == 0
        check_life(folder, files, undisturbed)
        completed += 1
        folder = tmp_path / str(completed)
    if folder.exists():
        check_life(folder, files, undisturbed)


def check_life(folder: Path, files: tuple[str, ...], undisturbed: Audit) -> None:
    """Bring an audit to its end; it equals the undisturbed one, and no file was kept twice."""
    listener = LoggingListener(folder / "log")
    end = run_audit(request_for(files, folder), listener)
    assert told(end.audit) == told(undisturbed)
    kept = (folder / "log").read_text(encoding="utf-8").splitlines()
    lasting = [file for file in kept if kept.count(file) > 1]
    assert not lasting, "what was kept is never decoded again"
    shutil.rmtree(folder)


def whole_or_absent(report: Path) -> None:
    """A report is an old one or a new one, never a part."""
    if report.exists():
        assert json.loads(report.read_text(encoding="utf-8"))["frames"]
