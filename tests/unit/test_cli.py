"""The command itself: help that teaches, strict calls, honest exit status, a quick start."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from auditor import __version__
from auditor.words.kinds import KINDS

COMMANDS = ("audit", "frame", "nd-time", "history", "apply", "explain")


def auditor(*words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "auditor", *words],
        capture_output=True, text=True, timeout=120, check=False,
    )  # fmt: skip


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_teaches_with_an_example(command: str) -> None:
    shown = auditor(command, "--help")
    assert shown.returncode == 0
    assert f"auditor {command}" in shown.stdout
    assert auditor("--help").stdout.count(command) >= 1


def test_the_version_is_told() -> None:
    assert auditor("--version").stdout.strip() == f"auditor {__version__}"


@pytest.mark.parametrize(
    ("words", "complaint"),
    [
        (("audit", "/nowhere/at/all", "--no-store"), "/nowhere/at/all"),
        (("audit",), "PATH"),
        (("audit", ".", "--format", "docx", "--no-store"), "no format 'docx'"),
        (("audit", ".", "--at", "91,0", "--no-store"), "no such place"),
        (("audit", ".", "--at", "here", "--no-store"), "LAT,LON"),
        (("frame", ".",), "folder"),
        (("explain", "blown-aera"), "There is no finding"),
        (("nd-time", "soon", "--stops", "6"), "soon"),
        (("nd-time", "4"), "filter"),
        (("history", "--export", "all.auditor", "--import", "old.auditor"), "do not go together"),
        (("audit", "", "--no-store"), "path is empty"),
        (("audit", ".", " ", "--no-store"), "path is empty"),
        (("audit", ".", "--out", "", "--no-store"), "--out"),
        (("audit", "..", "--store", ""), "--store"),
        (("audit", "..", "--settings", ""), "--settings"),
        (("frame", ""), "path is empty"),
        (("apply", "marks.json", "--to", ""), "--to"),
        (("apply", "", "--to", "."), "MARKS"),
        (("audit", "..", "--store", "x.sqlite", "--no-store"), "do not go together"),
        (("audit", "..", "--cluster", "tcp://x", "--workers", "2"), "do not go together"),
        (("nd-time", "4", "--factor", "1,000"), "in two ways"),
        (("nd-time", "4", "--stops", "six"), "no number"),
        (("nothing",), "nothing"),
    ],
)  # fmt: skip
def test_a_wrong_call_says_what_is_wrong_and_changes_nothing(
    words: tuple[str, ...], complaint: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    refused = auditor(*words)
    assert refused.returncode == 2
    assert complaint in refused.stderr
    assert "Traceback" not in refused.stderr
    assert list(tmp_path.iterdir()) == []


def test_reports_never_land_on_the_card(tmp_path: Path) -> None:
    card = tmp_path / "card"
    card.mkdir()
    refused = auditor("audit", str(card), "--out", str(card / "audit"), "--no-store")
    assert refused.returncode == 2
    assert "never written to" in refused.stderr
    assert list(card.iterdir()) == []


@pytest.mark.parametrize("code", sorted(KINDS))
def test_every_finding_has_all_its_words(code: str) -> None:
    kind = KINDS[code]
    assert code == kind.code
    assert all((kind.title, kind.meaning, kind.measured, kind.next_time))
    assert kind.meaning.endswith(".")


def test_explain_prints_one_finding_or_lists_all() -> None:
    one = auditor("explain", "blown-area")
    assert "What it means" in one.stdout
    assert "no eye protection" in " ".join(one.stdout.split())
    listed = auditor("explain").stdout
    assert all(code in listed for code in KINDS)


def test_six_stops_on_four_seconds_is_four_minutes_sixteen() -> None:
    """Common practice: 4 s behind six stops is 4 min 16 s."""
    planned = auditor("nd-time", "4", "--stops", "6")
    assert planned.returncode == 0
    assert "4 min 16 s" in planned.stdout
    assert "no eye" in " ".join(planned.stdout.split())


def test_a_comma_is_a_decimal_point_in_every_number() -> None:
    with_commas = auditor("nd-time", "0,5", "--stops", "6,5", "--drift", "-0,2")
    assert with_commas.returncode == 0
    assert with_commas.stdout == auditor(
        "nd-time", "0.5", "--stops", "6.5", "--drift", "-0.2"
    ).stdout.replace("0.5 s on", "0,5 s on")


def test_a_card_of_no_known_kind_is_refused_before_anything_is_told(tmp_path: Path) -> None:
    refused = auditor("nd-time", "4", "--stops", "6", "--card", str(tmp_path / "card.txt"))
    assert (refused.returncode, refused.stdout) == (2, "")
    assert ".png or a .pdf" in refused.stderr


def test_a_terminal_that_tells_no_width_is_written_to_all_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "A_0001.DNG").write_bytes(b"")
    monkeypatch.setenv("COLUMNS", "0")
    told = auditor("frame", str(tmp_path / "A_0001.DNG"), "--out", str(tmp_path.parent / "one"))
    assert "A_0001.DNG: " in told.stderr
    assert "Written: " in told.stdout


def test_a_path_that_is_no_text_is_shown_all_the_same(tmp_path: Path) -> None:
    card = f"{tmp_path}/card-\udcff.png"
    planned = auditor("nd-time", "4", "--stops", "6", "--card", card)
    assert planned.returncode == 0, planned.stderr
    assert r"card-\xff.png" in planned.stdout
    assert Path(card).exists()


def test_help_loads_nothing_heavy() -> None:
    code = (
        "import sys\n"
        "sys.argv = ['auditor', '--help']\n"
        "from auditor.cli import main\n"
        "try:\n    main()\n"
        "except SystemExit:\n    pass\n"
        "heavy = {'numpy', 'scipy', 'matplotlib', 'rawpy', 'PIL', 'lxml', 'jinja2'}\n"
        "print('HEAVY', sorted(heavy & set(sys.modules)))\n"
    )
    shown = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=True
    )
    assert shown.stdout.strip().endswith("HEAVY []")


@pytest.mark.parametrize("quiet", [(), ("--quiet",)])
def test_an_unreadable_file_ends_in_status_one(quiet: tuple[str, ...], tmp_path: Path) -> None:
    card = tmp_path / "card"
    card.mkdir()
    (card / "A_0001.DNG").write_bytes(b"")
    out = str(tmp_path / "out")
    done = auditor("audit", str(card), "--out", out, "--no-store", "-f", "json", *quiet)
    assert done.returncode == 1
    assert "A_0001.DNG: " in done.stderr
    assert bool(done.stdout) is not bool(quiet)
    assert (tmp_path / "out" / "audit.json").exists()
    assert (
        auditor("frame", str(card / "A_0001.DNG"), "--out", str(tmp_path / "one")).returncode == 1
    )
