"""How a call ends: stopped, with nobody to read it, on a full disk, in an old encoding."""

from __future__ import annotations

import io
import os
import signal
import subprocess
import sys
import time
from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest

from auditor import cli
from auditor.audit import AuditEnd, _now
from auditor.console import ending
from auditor.console.outlet import steady_streams
from tests.builders import make_audit
from tests.built_dng import flat, write_dng

AUDITOR = (sys.executable, "-m", "auditor")
STOPPED_WHILE_MEASURING = """
import os, signal, sys, time
import auditor.console.ending, auditor.engine.choose
# a suite run in the background hands some of them down as ignored
signal.signal(signal.SIGINT, signal.default_int_handler)
if hasattr(signal, "SIGHUP"):
    signal.signal(signal.SIGHUP, signal.SIG_DFL)
from auditor.cli import main

NUMBER = int(sys.argv.pop())

class Engine:
    def run(self, function, tasks):
        os.kill(os.getpid(), NUMBER)
        time.sleep(20)
        yield

    def close(self):
        pass

auditor.engine.choose.make_engine = lambda *_: Engine()
auditor.console.ending.ENDS_WITHIN_S = 50  # the machine may be busy
main()
"""

STUCK = """
import os, resource, signal, sys, time
import numpy as np
import auditor.audit, auditor.console.ending
from auditor.cli import main

auditor.console.ending.ENDS_WITHIN_S = 0.5

def in_lapack():
    pages = int(open("/proc/self/statm").read().split()[0])
    low = pages * resource.getpagesize() + (1 << 28)
    resource.setrlimit(resource.RLIMIT_AS, (low, low))
    while True:  # each takes many seconds, and none looks at signals
        np.linalg.svd(np.random.default_rng(1).random((1500, 1500)))

WAYS = {
    "in C": lambda: sum(range(10**15)),  # holds the interpreter's lock: no handler ever runs
    "in LAPACK": in_lapack,
    "in Python": lambda: time.sleep(60),
}

def stuck(paths):
    to_tell = [b"stuck\\n"]
    while True:
        try:  # swallows the interrupt, as a library may
            os.write(1, to_tell.pop() if to_tell else b"")
            WAYS[sys.argv[-1]]()
        except KeyboardInterrupt:
            pass

auditor.audit.find_files = stuck
auditor.audit.check_call = lambda request: None
main()
"""


@pytest.fixture
def card(tmp_path: Path) -> Path:
    folder = tmp_path / "card"
    folder.mkdir()
    (folder / "A_0001.DNG").write_bytes(b"")
    return folder


def ended(
    *words: str, into: int | None = subprocess.PIPE, **more: str
) -> subprocess.CompletedProcess[str]:
    environment: Mapping[str, str] = os.environ | more
    return subprocess.run(
        [*AUDITOR, *words], stdout=into, stderr=subprocess.PIPE,
        text=True, errors="replace", timeout=60, check=False, env=environment,
    )  # fmt: skip


def test_a_part_of_an_audit_ends_a_loop_that_goes_on_after_one() -> None:
    audit = replace(make_audit()[0], complete=False)
    assert AuditEnd(audit, ()).exit_status == 130
    assert AuditEnd(replace(audit, complete=True, frames=()), ()).exit_status == 0


@pytest.mark.skipif(sys.platform == "win32", reason="signals of another family")
@pytest.mark.parametrize("name", ["SIGINT", "SIGTERM", "SIGHUP"])
def test_stopped_while_measuring_it_keeps_what_it_has_and_leaves_nothing_lying(
    name: str, tmp_path: Path
) -> None:
    card, aside, out = (tmp_path / part for part in ("card", "aside", "out"))
    card.mkdir()
    aside.mkdir()
    write_dng(card / "A_0001.DNG", flat())
    words = ("audit", str(card), "--out", str(out), "--no-store", "-f", "json")
    done = subprocess.run(
        [sys.executable, "-c", STOPPED_WHILE_MEASURING, *words, str(int(getattr(signal, name)))],
        capture_output=True, text=True, timeout=60, check=False,
        env=os.environ | {"TMPDIR": str(aside)},
    )  # fmt: skip
    assert done.returncode == 130, done.stderr
    assert "Stopped after 0 of 1 files" in done.stderr
    assert done.stderr.count("A_0001.DNG") == 0, "counted, not listed"
    assert "goes on" not in done.stderr, "nothing is remembered here"
    assert not out.exists(), "nothing was measured: an earlier report would stand"
    assert list(aside.iterdir()) == []


@pytest.mark.skipif(not hasattr(os, "fork"), reason="signals of another family")
@pytest.mark.parametrize("how", ["in C", "in LAPACK", "in Python"])
def test_a_library_that_stays_in_its_own_code_does_not_outlive_a_wish_to_end(how: str) -> None:
    """As linear algebra does, under a ceiling of memory that it does not expect."""
    if how == "in LAPACK" and not Path("/proc/self/statm").exists():
        pytest.skip("no such ceiling here")
    with subprocess.Popen(
        [sys.executable, "-c", STUCK, "audit", how],
        stdout=subprocess.PIPE, stderr=subprocess.DEVNULL,
    ) as process:  # fmt: skip
        assert process.stdout is not None
        assert process.stdout.readline() == b"stuck\n"
        process.send_signal(signal.SIGTERM)
        assert process.wait(timeout=50) == -signal.SIGKILL
        assert process.stdout.read() == b"", "nobody else holds its output open"


def test_a_wish_to_end_is_met_within_five_seconds() -> None:
    assert 3.0 <= ending.ENDS_WITHIN_S <= 5.0


def test_a_reader_that_goes_away_changes_neither_status_nor_list(
    card: Path, tmp_path: Path
) -> None:
    there, away = os.pipe()
    os.close(there)
    words = ("--out", str(tmp_path / "out"), "--no-store", "-f", "json", "--replace")
    unread = ended("audit", str(card), *words, into=away)
    (card / "A_0001.DNG").unlink()
    write_dng(card / "A_0002.DNG", flat())
    read = ended("audit", str(card), *words, into=away)
    os.close(away)
    assert (unread.returncode, read.returncode) == (1, 0)
    assert unread.stderr.count("A_0001.DNG: ") == 1
    assert "Could not be read" in unread.stderr


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no full device here")
def test_a_full_disk_under_standard_output_is_told_in_a_sentence() -> None:
    with Path("/dev/full").open("wb") as full:
        done = ended("explain", into=full.fileno())
    assert done.returncode == 2
    assert "standard output: cannot be written" in done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize("encoding", ["ascii", "latin-1", "cp437", "cp1252"])
def test_an_old_encoding_ends_no_command(encoding: str) -> None:
    done = ended("nd-time", "1'30", "--stops", "9.9", PYTHONIOENCODING=encoding)
    assert done.returncode == 0, done.stderr
    assert "Caution" in done.stdout


@pytest.mark.parametrize(
    "words",
    [["{}"], ["audit", "{}"], ["audit", ".", "--{}"], ["audit", ".", "--format", "{}"],
     ["apply", "a.json", "--to", "{}"], ["explain", "{}"], ["frame", "{}"], ["history", "{}"]],
    ids=" ".join,
)  # fmt: skip
def test_what_steers_a_terminal_is_written_out_in_every_error(
    words: list[str], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    hostile = "a\x9b31mb\x07c\u202ed"
    monkeypatch.setattr(sys, "argv", ["auditor", *(word.format(hostile) for word in words)])
    assert cli._run() == 2
    told = capsys.readouterr().err
    assert "\\u202ed" in told
    assert not set(told) & {"\x9b", "\x07", "\u202e"}


@pytest.mark.skipif(not hasattr(time, "tzset"), reason="the system takes no time zone from here")
@pytest.mark.parametrize("zone", ["AAA-99:99:99", "XXX+25", ":/etc/passwd", '"><b>', "A" * 5000])
def test_an_odd_time_zone_ends_no_audit(zone: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TZ", zone)
    time.tzset()
    try:
        assert datetime.fromisoformat(_now()).tzinfo is not None
    finally:
        monkeypatch.undo()
        time.tzset()


def test_signs_that_an_encoding_lacks_become_plain_ones(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with (tmp_path / "told").open("w", encoding="ascii") as old:
        monkeypatch.setattr(sys, "stdout", old)
        with steady_streams():
            print("−0.3 stop … 漢")
        assert sys.stdout is old
    assert (tmp_path / "told").read_text() == "-0.3 stop ... \\u6f22\n"


def test_a_stream_that_is_no_file_is_left_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    own = io.StringIO()
    monkeypatch.setattr(sys, "stdout", own)
    with steady_streams() as lost:
        print("–")
    assert own.getvalue() == "–\n"
    assert lost == []


@pytest.mark.skipif(sys.platform == "win32", reason="there no folder goes while one stands in it")
@pytest.mark.parametrize(
    "words", [("audit", ".", "--no-store"), ("apply", "marks.json", "--to", ".")], ids=" ".join
)
def test_a_current_folder_that_is_gone_is_told_in_a_sentence(
    words: tuple[str, ...], tmp_path: Path
) -> None:
    program = (
        "import os, sys\nfrom auditor.cli import main\n"
        "os.chdir(sys.argv[1])\nos.rmdir(sys.argv.pop(1))\nmain()"
    )
    (tmp_path / "gone").mkdir()
    done = subprocess.run(
        [sys.executable, "-c", program, str(tmp_path / "gone"), *words],
        capture_output=True, text=True, timeout=60, check=False,
    )  # fmt: skip
    assert done.returncode == 2
    assert "Traceback" not in done.stderr
    assert "no longer there" in done.stderr or "cannot be read" in done.stderr
