"""Habits of good commands: what is piped can be searched, what is misspelt is answered."""

from __future__ import annotations

import json
import logging
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from auditor.console.progress import EARLIEST, ConsoleListener, time_left_s
from auditor.console.terminal import tell_decisions
from auditor.words.cautions import IN_ONE_LINE
from tests.built_dng import flat, write_dng
from tests.unit.test_cli import COMMANDS, auditor

LONG_NAME = "a-folder-with-a-name-that-is-longer-than-any-terminal-is-wide-" + "x" * 60


@pytest.fixture
def card(tmp_path: Path) -> Path:
    folder = tmp_path / LONG_NAME
    folder.mkdir()
    write_dng(folder / "A_0001.DNG", flat())
    (folder / "A_0002.DNG").write_bytes(b"")
    return folder


def test_json_is_all_that_stands_on_standard_output(card: Path, tmp_path: Path) -> None:
    told = auditor("audit", str(card), "--json", "--no-store", "--out", str(tmp_path / "out"))
    assert told.returncode == 1, told.stderr
    held = json.loads(told.stdout)
    assert {frame["id"] for frame in held["frames"]} == {"A_0001.DNG", "A_0002.DNG"}
    assert "Could not be read" in told.stderr
    assert not (tmp_path / "out").exists(), "no report was asked for"
    both = auditor(
        "audit", str(card), "--json", "-q", "-f", "csv", "--no-store", "--out", str(tmp_path / "o")
    )
    assert json.loads(both.stdout)["frames"] == held["frames"]
    assert (tmp_path / "o" / "frames.csv").exists()


def test_what_is_piped_is_a_finding_a_line_and_no_path_is_broken(
    card: Path, tmp_path: Path
) -> None:
    out = tmp_path / ("reports-" + "y" * 120)
    told = auditor("audit", str(card), "--no-store", "-f", "json", "--out", str(out))
    held = json.loads((out / "audit.json").read_bytes())
    found = [(frame["id"], finding) for frame in held["frames"] for finding in frame["findings"]]
    assert found
    lines = told.stdout.splitlines()
    for frame, finding in found:
        assert sum(line.startswith(f"{frame}: {finding['code']}: ") for line in lines) >= 1
    assert any(str(out / "audit.json") in line for line in lines)
    assert sum("Caution" in line for line in lines) == 1
    refused = auditor("audit", str(tmp_path / LONG_NAME / "no" / LONG_NAME))
    assert any(
        str(tmp_path / LONG_NAME / "no" / LONG_NAME) in x for x in refused.stderr.split("\n")
    )
    one = auditor("frame", str(card / "A_0001.DNG"), "--no-store", "--out", str(out))
    for finding in json.loads((out / "A_0001.DNG.json").read_bytes())["findings"]:
        assert sum(finding["code"] in line for line in one.stdout.splitlines()) == 1


def test_verbose_tells_each_file(card: Path, tmp_path: Path) -> None:
    told = auditor("audit", str(card), "-v", "--no-store", "-f", "json", "-o", str(tmp_path / "o"))
    assert "A_0001.DNG: measured (" in told.stderr
    both = auditor("audit", str(card), "-v", "-q", "--no-store", "-o", str(tmp_path / "o"))
    assert both.returncode == 2


def test_decisions_are_told_when_asked_for(
    card: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    words = ("audit", str(card), "--no-store", "-q", "-f", "json", "-o", str(tmp_path / "o"))
    assert "auditor.settle" not in auditor(*words).stderr
    monkeypatch.setenv("AUDITOR_DEBUG", "group, Settle")
    told = auditor(*words).stderr
    assert re.search(r"^auditor\.settle: A_0001\.DNG clips at \d+ \(", told, re.MULTILINE)


def test_a_room_asked_for_twice_tells_once(capsys: pytest.CaptureFixture[str]) -> None:
    for _ in range(2):
        tell_decisions("nowhere")
    logging.getLogger("auditor.nowhere").debug("said")
    assert capsys.readouterr().err == "auditor.nowhere: said\n"


def test_the_time_left_is_told_only_when_it_can_be_an_estimate() -> None:
    """A file a second after four seconds of starting: ninety seconds for the other ninety."""
    ended = [4.0 + second for second in range(10)]
    assert time_left_s(ended[: EARLIEST - 1], 100, 9.0) is None
    assert time_left_s(ended[:1], 100, 4.0) is None
    assert time_left_s(ended, 100, 13.0) == pytest.approx(90.0)
    assert time_left_s(ended[:EARLIEST], 100, ended[EARLIEST - 1]) == pytest.approx(100 - EARLIEST)


def test_the_first_plain_line_has_no_estimate(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    now = [0.0]
    monkeypatch.setattr("time.monotonic", lambda: now[0])
    watch = ConsoleListener(quiet=False)
    watch.found(100, 0, 0)
    for second in (11.0, 12.0, 13.0, 14.0, 15.0, 16.0, 17.0, 22.0):
        now[0] = second
        watch.examined("A.DNG", None)
    early, later = [x for x in capsys.readouterr().err.splitlines() if x.startswith("Measured")]
    assert "left" not in early
    assert later.endswith("2 min 25 s left.")


@pytest.mark.parametrize("command", [*COMMANDS, "settings"])
def test_no_help_shows_a_type_of_python(command: str) -> None:
    shown = auditor(command, "--help").stdout
    assert not re.search(r"\b(INTEGER|FLOAT|TEXT|BOOLEAN|STR)\b|<\w+>", shown)


@pytest.mark.parametrize(
    ("words", "nearest"),
    [
        (("explain", "blown-aera"), "Did you mean blown-area"),
        (("explain", "cutoff"), "Did you mean cut-off"),
        (("explain", "hedroom"), "headroom"),
        (("audit", ".", "-f", "jsn", "--no-store"), "Did you mean json"),
        (("audit", ".", "--paper", "mate", "--no-store"), "Did you mean matte"),
        (("adit", "."), "audit"),
    ],
)
def test_a_word_misspelt_is_answered_by_the_nearest(words: tuple[str, ...], nearest: str) -> None:
    refused = auditor(*words)
    assert refused.returncode == 2
    assert nearest in refused.stderr


@pytest.mark.parametrize(
    ("code", "said"),
    [
        ("cut-off", "ends before its picture does"),
        ("noise-floor", "signal-to-noise ratio is 1"),
        ("headroom", "Headroom"),
        ("headroom_stops", "Saturation over the bright end."),
        ("BLOWN-AREA", "What it means"),
    ],
)
def test_explain_knows_failures_and_measures_too(code: str, said: str) -> None:
    told = auditor("explain", code)
    assert told.returncode == 0, told.stderr
    assert said in told.stdout
    assert "**" not in told.stdout


def test_the_shell_can_complete_a_command() -> None:
    asked = os.environ | {
        "_AUDITOR_COMPLETE": "complete_bash", "COMP_WORDS": "auditor expl", "COMP_CWORD": "1",
    }  # fmt: skip
    program = "import sys; sys.argv = ['auditor']; from auditor.cli import main; main()"
    told = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, env=asked, check=False
    )
    assert told.stdout.split() == ["explain"], told.stderr


def test_an_empty_history_says_which_store_it_asked(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    monkeypatch.setenv("HOME", str(tmp_path))
    assert "--store" in auditor("history").stderr


def test_an_audit_into_a_store_of_its_own_says_how_to_ask_it(card: Path, tmp_path: Path) -> None:
    store = tmp_path / "the store.sqlite"
    words = ("audit", str(card), "-f", "json", "-o", str(tmp_path / "o"), "--store", str(store))
    assert f"auditor history --store '{store}'" in auditor(*words).stdout
    assert "1 shoot" in auditor("history", "--store", str(store)).stdout


def test_a_terminal_takes_one_line_of_caution() -> None:
    assert len(IN_ONE_LINE) + len("Caution: ") <= 104
    told = auditor("nd-time", "4", "--stops", "6").stdout
    assert [line for line in told.splitlines() if "Caution" in line] == [f"Caution: {IN_ONE_LINE}"]
