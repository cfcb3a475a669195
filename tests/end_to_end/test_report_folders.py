"""Where reports go, whose they replace, and what is made again: through the command itself."""

from __future__ import annotations

import json
import shutil
import stat
from pathlib import Path
from zlib import crc32

import numpy as np
import pytest

from auditor.report.record import RECORD
from tests.built_dng import ASCII, SHORT, WHITE, Tag, write_dng
from tests.sabotage import auditor

EVENING, NEXT = "2024:10:03", "2024:10:04"


def frame(path: Path, taken: str, dn: int = 1000, *, blown: bool = False) -> None:
    """A small frame taken at a moment (``2024:10:03 18:40:12``), told apart by its noise."""
    noise = np.random.default_rng(crc32(f"{path.name} {taken}".encode())).normal(dn, 30, (96, 144))
    if blown:
        noise[:48] = 4095
    path.parent.mkdir(parents=True, exist_ok=True)
    moment: Tag = (0x0132, ASCII, taken)
    write_dng(path, np.clip(noise, 0, 4095).astype(np.uint16), moment, (WHITE, SHORT, 4095))


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder to work in, with documents of one's own elsewhere."""
    folder = tmp_path / "work"
    folder.mkdir()
    monkeypatch.setenv("XDG_DOCUMENTS_DIR", str(tmp_path / "documents"))
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    return folder


@pytest.fixture
def card(tmp_path: Path) -> Path:
    card = tmp_path / "card"
    for number in range(3):
        frame(card / f"DCIM/100/A_000{number}.DNG", f"{EVENING} 18:4{number}:00")
    return card


def contents(folder: Path) -> dict[str, tuple[int, bytes]]:
    return {
        str(path.relative_to(folder)): (path.stat().st_mtime_ns, path.read_bytes())
        for path in folder.rglob("*")
        if path.is_file()
    }


def frames_of(folder: Path) -> set[str]:
    return {frame["file"] for frame in json.loads((folder / "audit.json").read_bytes())["frames"]}


def test_reports_go_to_the_day_of_the_first_evening_and_a_second_evening_beside_it(
    here: Path, card: Path
) -> None:
    first = auditor("audit", str(card), "-f", "json", cwd=here)
    assert first.returncode == 0, first.stderr
    folder = here / "audits" / "2024-10-03"
    assert f"Report: {folder / 'audit.json'}" in first.stdout
    before = contents(folder)
    # the card is formatted, and another evening has the same names
    shutil.rmtree(card)
    for number in range(3):
        frame(card / f"DCIM/100/A_000{number}.DNG", f"{NEXT} 18:4{number}:00")
    assert auditor("audit", str(card), "-f", "json", cwd=here).returncode == 0
    assert contents(folder) == before
    assert frames_of(here / "audits" / "2024-10-04")


def test_another_shoot_of_that_day_gets_a_number_and_the_same_command_finds_its_own(
    here: Path, card: Path
) -> None:
    other = card.parent / "other"
    for number in range(3):
        frame(other / f"A_000{number}.DNG", f"{EVENING} 06:4{number}:00")
    for _ in range(2):
        for path in (card, other):
            assert auditor("audit", str(path), "-f", "json", cwd=here).returncode == 0
    assert {path.name for path in (here / "audits").iterdir()} == {"2024-10-03", "2024-10-03-2"}
    assert frames_of(here / "audits/2024-10-03") == {f"DCIM/100/A_000{n}.DNG" for n in range(3)}


def test_more_frames_on_the_same_card_replace_its_audit(here: Path, card: Path) -> None:
    assert auditor("audit", str(card), "-f", "json", cwd=here).returncode == 0
    for number in range(3, 8):
        frame(card / f"DCIM/100/A_000{number}.DNG", f"{NEXT} 18:4{number}:00")
    assert auditor("audit", str(card), "-f", "json", cwd=here).returncode == 0
    assert [path.name for path in (here / "audits").iterdir()] == ["2024-10-03"]
    assert len(frames_of(here / "audits/2024-10-03")) == 8


@pytest.mark.parametrize(
    ("taken", "day"),
    [
        ("2024:10:03 23:50:00", "2024-10-03"),
        ("2024:10:04 00:40:00", "2024-10-03"),
        ("2024:10:04 03:30:00", "2024-10-04"),
        (None, "undated"),
    ],
)
def test_a_night_belongs_to_its_evening_and_no_date_is_told(
    here: Path, tmp_path: Path, taken: str | None, day: str
) -> None:
    frame(tmp_path / "shoot/A_0001.DNG", taken or "0000:00:00 00:00:00")
    frame(tmp_path / "shoot/A_0002.DNG", "2024:10:04 05:00:00" if taken else "    :  :  ")
    done = auditor("audit", str(tmp_path / "shoot"), "-f", "json", cwd=here)
    assert done.returncode == 0, done.stderr
    assert [path.name for path in (here / "audits").iterdir()] == [day]


@pytest.mark.parametrize(
    "words",
    [("audit", "."), ("audit", "DCIM/100/A_0001.DNG"), ("frame", "DCIM/100/A_0001.DNG")],
    ids=" ".join,
)
@pytest.mark.parametrize("locked", [False, True])
def test_from_inside_the_card_it_just_works_and_the_card_stays_as_it_was(
    here: Path, card: Path, words: tuple[str, ...], locked: bool
) -> None:
    before = contents(card)
    if locked:
        for path in (card, *card.rglob("*")):
            path.chmod(path.stat().st_mode & ~(stat.S_IWUSR | stat.S_IWGRP | stat.S_IWOTH))
    done = auditor(*words, cwd=card)
    assert done.returncode == 0, done.stderr
    folder = here.parent / "documents" / "audits" / "2024-10-03"
    assert str(folder) in done.stdout
    assert any(folder.rglob("*.png"))
    assert contents(card) == before


def test_from_inside_the_folder_of_frames_too(here: Path, card: Path) -> None:
    done = auditor("audit", "A_0002.DNG", "-f", "json", cwd=card / "DCIM/100")
    assert done.returncode == 0, done.stderr
    assert frames_of(here.parent / "documents/audits/2024-10-03") == {"A_0002.DNG"}


def test_a_folder_of_another_shoot_is_replaced_only_when_told(here: Path, card: Path) -> None:
    out, words = here / "out", ("-f", "json", "-f", "html", "--out", "out")
    assert auditor("audit", str(card), *words, cwd=here).returncode == 0
    before = contents(out)
    for number in range(3):  # the names of the first shoot, so that only the frames tell
        frame(card.parent / f"other/A_000{number}.DNG", f"{NEXT} 18:4{number}:00")
    frame(card.parent / "third/Z_0001.DNG", f"{NEXT} 19:00:00")
    for other in ("other", "third"):
        refused = auditor("audit", str(card.parent / other), *words, cwd=here)
        assert refused.returncode == 2
        assert "another shoot" in refused.stderr
        assert "--replace" in refused.stderr
        assert contents(out) == before
    taken = auditor("audit", str(card.parent / "other"), *words, "--replace", cwd=here)
    assert taken.returncode == 0, taken.stderr
    assert frames_of(out) == {f"A_000{number}.DNG" for number in range(3)}
    assert auditor("audit", str(card.parent / "other"), *words, cwd=here).returncode == 0


@pytest.mark.parametrize("name", ["report.html", "frames.csv"])
def test_somebody_elses_file_is_replaced_only_when_told(here: Path, card: Path, name: str) -> None:
    (here / "out").mkdir()
    (here / "out" / name).write_text("my own", encoding="utf-8")
    words = ("audit", str(card), "--out", "out", "-f", "html", "-f", "csv")
    refused = auditor(*words, cwd=here)
    assert refused.returncode == 2
    assert name in refused.stderr
    assert "--replace" in refused.stderr
    assert (here / "out" / name).read_text(encoding="utf-8") == "my own"
    assert [path.name for path in (here / "out").iterdir()] == [name]
    assert auditor(*words, "--replace", cwd=here).returncode == 0
    assert (here / "out" / name).read_text(encoding="utf-8") != "my own"


def test_one_format_into_an_older_folder_leaves_nothing_old_beside_it(
    here: Path, card: Path
) -> None:
    words = ("audit", str(card), "--out", "out")
    assert auditor(*words, "-f", "json", "-f", "html", "-f", "md", cwd=here).returncode == 0
    (here / "out/report.md").unlink()
    (here / "out/notes.txt").write_text("my own", encoding="utf-8")
    frame(card / "DCIM/100/A_0009.DNG", f"{EVENING} 19:00:00")
    done = auditor(*words, "-f", "csv", cwd=here)
    assert done.returncode == 0, done.stderr
    assert "json and html" in done.stdout, "it says what it has made anew"
    assert "DCIM/100/A_0009.DNG" in frames_of(here / "out")
    assert b"A_0009.DNG" in (here / "out/report.html").read_bytes()
    assert {path.name for path in (here / "out").iterdir()} == {
        "report.html", "report-pictures", "audit.json", "frames.csv", "notes.txt", RECORD,
    }  # fmt: skip


def test_the_page_is_opened_when_asked_for(here: Path, card: Path) -> None:
    opener = here / "opener"
    opener.write_text(f'#!/bin/sh\necho "$1" >> {here}/opened\n', encoding="utf-8")
    opener.chmod(0o755)
    words = ("audit", str(card), "--out", "out", "--open", "--sheets", "none")
    done = auditor(*words, cwd=here, BROWSER=f"{opener} %s")
    assert done.returncode == 0, done.stderr
    opened = (here / "opened").read_text(encoding="utf-8").strip()
    assert opened == (here / "out/report.html").as_uri()
    without = auditor(*words, "-f", "json", cwd=here)
    assert without.returncode == 2
    assert "--open needs the page" in without.stderr


def test_sheets_are_drawn_once_for_what_was_lost_and_again_only_where_it_changed(
    here: Path, card: Path
) -> None:
    for number in range(4, 7):
        frame(card / f"DCIM/100/A_000{number}.DNG", f"{EVENING} 19:0{number}:00", blown=True)
    words = ("audit", str(card), "--out", "out")
    first = auditor(*words, cwd=here)
    assert first.returncode == 0, first.stderr
    sheets = here / "out/sheets"
    names = {f"DCIM-100-A_000{number}.DNG.png" for number in range(4, 7)}
    assert {path.name for path in sheets.iterdir()} == names
    before = contents(here / "out")
    again = auditor(*words, cwd=here)
    assert again.returncode == 0, again.stderr
    after = contents(here / "out")
    same = {name for name in after if before.get(name) == after[name]}
    same = {name for name in same if not name.startswith("report-pictures/")}
    assert same == {f"sheets/{name}" for name in names} | {"report.html", "contact-sheet.png"}
    assert "5 of all as they were" in again.stdout
    # what somebody has spoilt is drawn again, and what is no longer wanted goes
    (sheets / "DCIM-100-A_0005.DNG.png").write_bytes(b"spoilt")
    (card / "DCIM/100/A_0006.DNG").unlink()
    assert auditor(*words, cwd=here).returncode == 0
    assert {path.name for path in sheets.iterdir()} == names - {"DCIM-100-A_0006.DNG.png"}
    assert contents(sheets)["DCIM-100-A_0004.DNG.png"] == before["sheets/DCIM-100-A_0004.DNG.png"]
    assert (sheets / "DCIM-100-A_0005.DNG.png").read_bytes()[:4] == b"\x89PNG"


@pytest.mark.parametrize(("which", "count"), [("all", 4), ("lost", 1), ("none", 0)])
def test_the_frames_that_get_a_sheet_can_be_chosen(
    here: Path, card: Path, which: str, count: int
) -> None:
    frame(card / "DCIM/100/A_0004.DNG", f"{EVENING} 19:00:00", blown=True)
    done = auditor("audit", str(card), "-f", "png", "--out", "out", "--sheets", which, cwd=here)
    assert done.returncode == 0, done.stderr
    assert len(list((here / "out").glob("sheets/*.png"))) == count
    assert (here / "out/contact-sheet.png").exists()


def test_a_choice_of_sheets_that_there_is_not_is_refused(here: Path, card: Path) -> None:
    refused = auditor("audit", str(card), "--sheets", "some", cwd=here)
    assert refused.returncode == 2
    assert "all, lost, none" in refused.stderr
    assert list(here.iterdir()) == []


def test_a_sheet_that_cannot_be_drawn_costs_only_itself_and_is_our_fault(
    here: Path, card: Path
) -> None:
    for number in (4, 5):
        frame(card / f"DCIM/100/A_000{number}.DNG", f"{EVENING} 19:0{number}:00", blown=True)
    sabotage = (
        "import auditor.report.png_frame as sheets\n"
        "draw = sheets.draw_frame_sheet\n"
        "def broken(frame, *given):\n"
        "    if 'A_0005' in frame.id:\n        raise IndexError('off the sheet')\n"
        "    return draw(frame, *given)\n"
        "sheets.draw_frame_sheet = broken\n"
    )
    words = ("audit", str(card), "--out", "out", "--debug", "faults.txt")
    done = auditor(*words, sabotage=sabotage, aside=here.parent / "aside", cwd=here)
    assert done.returncode == 2
    assert "A_0005.DNG.png: could not be made" in done.stderr
    assert "Please report it" in done.stderr
    assert "IndexError: off the sheet" in (here / "faults.txt").read_text(encoding="utf-8")
    assert [path.name for path in (here / "out/sheets").iterdir()] == ["DCIM-100-A_0004.DNG.png"]
    assert (here / "out/report.html").exists()
