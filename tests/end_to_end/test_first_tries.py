"""What a first try meets: a broken program, an empty card, a path that is not there."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from auditor import PROJECT_URL
from tests.built_dng import flat, write_dng
from tests.sabotage import FAILS_IN_WORKERS, auditor


@pytest.fixture
def card(tmp_path: Path) -> Path:
    folder = tmp_path / "card"
    folder.mkdir()
    for number in (1, 2):
        write_dng(folder / f"A_000{number}.DNG", flat(dn=900 + 300 * number))
    return folder


def contents(folder: Path) -> dict[str, bytes]:
    return {str(path): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def test_a_program_that_fails_on_every_frame_ends_badly_and_blames_no_card(
    card: Path, tmp_path: Path
) -> None:
    words = ("audit", str(card), "--out", str(tmp_path / "out"), "--no-store")
    assert auditor(*words).returncode == 0
    before, debug = contents(tmp_path / "out"), tmp_path / "debug.txt"
    broken = auditor(
        *words, "--debug", str(debug),
        sabotage=FAILS_IN_WORKERS.replace("PART", repr("A_")), aside=tmp_path / "aside",
    )  # fmt: skip
    assert broken.returncode == 2, broken.stderr
    assert f"Please report it at {PROJECT_URL}" in broken.stderr
    assert "copy" not in (broken.stderr + broken.stdout).lower()
    assert "Traceback" not in broken.stderr + broken.stdout
    assert "TypeError" in broken.stderr
    assert contents(tmp_path / "out") == before, "the last good report stands"
    kept = debug.read_text(encoding="utf-8")
    assert kept.count("Traceback (most recent call last)") == 2
    assert 'raise TypeError("a fault of ours' in kept
    assert "A_0001.DNG" in kept
    assert "word" not in kept + broken.stderr
    assert "key=1" not in kept + broken.stderr


def test_a_program_that_fails_on_one_frame_says_so_of_that_frame_alone(
    card: Path, tmp_path: Path
) -> None:
    out = tmp_path / "out"
    ended = auditor(
        "audit", str(card), "--out", str(out), "--no-store", "-f", "json", "-f", "html",
        sabotage=FAILS_IN_WORKERS.replace("PART", repr("A_0002")), aside=tmp_path / "aside",
    )  # fmt: skip
    assert ended.returncode == 1, ended.stderr
    audit = json.loads((out / "audit.json").read_bytes())
    states = {frame["file"]: frame["error"] for frame in audit["frames"]}
    assert states["A_0001.DNG"] is None
    assert (states["A_0002.DNG"]["code"], states["A_0002.DNG"]["kind"]) == ("internal", "ours")
    assert PROJECT_URL in states["A_0002.DNG"]["message"]
    said = " ".join(lesson["text"] for lesson in audit["lessons"])
    assert "says nothing of the files" in said
    assert "from the card" not in said + ended.stdout + ended.stderr


def test_a_fault_outside_the_workers_is_told_in_a_sentence_and_kept(
    card: Path, tmp_path: Path
) -> None:
    sabotage = (
        "import auditor.conclude\n"
        "def broken(*given, **named):\n    raise KeyError('nowhere')\n"
        "auditor.conclude.group_shoot = broken\n"
    )
    debug = tmp_path / "debug.txt"
    words = ("audit", str(card), "--out", str(tmp_path / "out"), "--no-store")
    ended = auditor(*words, "--debug", str(debug), sabotage=sabotage, aside=tmp_path / "aside")
    assert ended.returncode == 2
    assert "Traceback" not in ended.stderr
    assert "KeyError: 'nowhere', at conclude.py:" in ended.stderr
    assert PROJECT_URL in ended.stderr
    assert "Traceback" in debug.read_text(encoding="utf-8")
    assert not (tmp_path / "out").exists()


def test_tracebacks_are_not_kept_on_the_card(card: Path, tmp_path: Path) -> None:
    ended = auditor("audit", str(card), "--out", str(tmp_path / "out"), "--debug", str(card / "d"))
    assert ended.returncode == 2
    assert "never written to" in ended.stderr
    assert len(list(card.iterdir())) == 2


@pytest.mark.parametrize("lack", ["no raw file", "nothing at all", "no such folder"])
def test_nothing_to_do_is_no_success_and_touches_nothing(
    lack: str, card: Path, tmp_path: Path
) -> None:
    store = str(tmp_path / "store.sqlite")
    words = ("audit", str(card), "--out", str(tmp_path / "out"))
    assert auditor(*words, "--no-store").returncode == 0
    for path in card.iterdir():
        path.unlink()
    if lack == "no raw file":
        (card / "A.JPG").write_bytes(b"\xff\xd8\xff\xe0")
        (card / "B.jpg").write_bytes(b"\xff\xd8\xff\xe0")
    elif lack == "no such folder":
        card.rmdir()
    before = contents(tmp_path)
    ended = auditor(*words, "--store", store)
    assert ended.returncode == 2
    assert str(card) in ended.stderr
    assert "mounted" in ended.stderr or "is the card or drive there" in ended.stderr
    assert ended.stdout == ""
    if lack == "no raw file":
        assert f"no raw file under {card} (2 .jpg passed over)" in ended.stderr
    assert contents(tmp_path) == before, "no report, no store, nothing"


def test_a_second_card_that_is_empty_costs_nothing_of_the_first(card: Path, tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    ended = auditor(
        "audit", str(card), str(tmp_path / "empty"), "--no-store", "-f", "json",
        "--out", str(tmp_path / "out"),
    )  # fmt: skip
    assert ended.returncode == 0
    assert f"There is no raw file under {tmp_path / 'empty'}" in ended.stderr
