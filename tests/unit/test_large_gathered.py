"""Large pictures over several audits: made once, again where they are missing, never in the way."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import pytest

from auditor import examine
from auditor.audit import AuditEnd, run_audit
from auditor.measures.frame import FrameView
from auditor.model.errors import CannotWrite, UnreadableFile, WrongCall
from auditor.model.large import LARGE
from auditor.report.picture_files import PICTURES_FOLDER
from auditor.request import AuditRequest
from auditor.store.shelf import PictureShelf
from tests.evening_audit import KeepingListener
from tests.unit.test_gather import Bench


class Audits(Bench):
    """Whole audits by an engine in this process that tells what was decoded for what."""

    def __init__(self, root: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        super().__init__(root, monkeypatch)
        self.wanted: list[set[str]] = []
        measure = examine._measured

        def measured(frame: FrameView, wanted: frozenset[str]) -> Any:
            self.wanted.append(set(wanted))
            return measure(frame, wanted)

        monkeypatch.setattr(examine, "_measured", measured)

    def audit(
        self, *, out: str = "out", formats: tuple[str, ...] = ("html",), **asked: Any
    ) -> AuditEnd:
        self.wanted.clear()
        self.listener = KeepingListener()
        request = AuditRequest(
            (str(self.root / "card"),), self.root / out, formats=formats,
            store=self.root / "store.sqlite", **asked,
        )  # fmt: skip
        return run_audit(request, self.listener)

    @property
    def shelf(self) -> PictureShelf:
        return PictureShelf.beside(self.root / "store.sqlite")

    def laid(self, out: str = "out") -> list[str]:
        return sorted(path.name for path in (self.root / out / PICTURES_FOLDER).glob("*"))


@pytest.fixture
def audits(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Audits:
    made = Audits(tmp_path, monkeypatch)
    made.frame("card/a.dng", seed=1)
    made.frame("card/b.dng", seed=2)
    return made


def page(audits: Audits, out: str = "out") -> str:
    return (audits.root / out / "report.html").read_text()


def policy(audits: Audits) -> str:
    return page(audits).partition("Content-Security-Policy")[2].partition(">")[0]


def test_a_second_audit_decodes_nothing_and_shows_the_same(audits: Audits) -> None:
    audits.audit()
    assert [LARGE in wanted for wanted in audits.wanted] == [True, True]
    assert audits.laid() == ["a.dng.jpg", "b.dng.jpg"]
    first = page(audits)
    assert "file:" in policy(audits)
    audits.audit()
    assert audits.wanted == []
    assert page(audits) == first


def test_pictures_that_are_gone_are_drawn_again_and_nothing_else_is_measured(
    audits: Audits,
) -> None:
    audits.audit()
    shutil.rmtree(audits.shelf.folder)
    audits.audit(out="other")
    assert audits.wanted == [{LARGE}, {LARGE}]
    assert audits.laid("other") == ["a.dng.jpg", "b.dng.jpg"]
    assert audits.listener.warnings == []


def test_a_known_frame_gets_them_when_they_are_first_wanted(audits: Audits) -> None:
    audits.audit(formats=("json",))
    assert LARGE not in audits.wanted[0]
    assert not audits.shelf.folder.exists()
    audits.audit()
    assert audits.wanted == [{LARGE}, {LARGE}]


@pytest.mark.parametrize("pictures", ["none", "small"])
def test_none_and_small_make_none_and_take_away_what_lay_there(
    audits: Audits, pictures: str
) -> None:
    audits.audit(pictures=pictures)
    assert LARGE not in set().union(*audits.wanted)
    assert (audits.laid(), audits.shelf.folder.exists()) == ([], False)
    assert ("data:image/jpeg" in page(audits)) == (pictures == "small")
    assert "file:" not in policy(audits)
    audits.audit(pictures="large")
    assert audits.laid() == ["a.dng.jpg", "b.dng.jpg"]
    audits.audit(pictures=pictures)
    assert audits.laid() == []


def test_one_disk_holds_each_picture_once(audits: Audits) -> None:
    audits.audit()
    for path in (audits.root / "out" / PICTURES_FOLDER).iterdir():
        assert path.stat().st_nlink == 2


def test_where_nothing_can_be_linked_they_are_copied(
    audits: Audits, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object) -> None:
        raise OSError(18, "Invalid cross-device link")

    monkeypatch.setattr(Path, "hardlink_to", refuse)
    audits.audit()
    for path in (audits.root / "out" / PICTURES_FOLDER).iterdir():
        assert (path.stat().st_nlink, path.read_bytes()[:2]) == (1, b"\xff\xd8")


def test_without_a_store_the_page_has_them_all_the_same(audits: Audits) -> None:
    audits.audit(keep_store=False)
    assert audits.laid() == ["a.dng.jpg", "b.dng.jpg"]
    assert not audits.shelf.folder.exists()


def test_a_frame_that_cannot_be_drawn_keeps_its_measurement(
    audits: Audits, monkeypatch: pytest.MonkeyPatch
) -> None:
    audits.audit(formats=("json",))

    def refuse(*_: object) -> None:
        raise UnreadableFile("damaged", "The file cannot be decoded.")

    monkeypatch.setattr(examine, "_measured", refuse)
    end = audits.audit()
    assert {frame.status for frame in end.audit.frames} == {"measured"}
    assert end.exit_status == 0
    (told,) = audits.listener.warnings
    assert told.startswith("a.dng and 1 more: no large pictures could be made")
    assert audits.laid() == []


def test_a_full_disk_costs_the_pictures_only(
    audits: Audits, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> None:
        raise CannotWrite("shelf: cannot be written (No space left on device).")

    monkeypatch.setattr(PictureShelf, "put", full)
    end = audits.audit()
    assert end.exit_status == 0
    assert {frame.status for frame in end.audit.frames} == {"measured"}
    assert [
        text for text in audits.listener.warnings if "No space left" in text
    ] == audits.listener.warnings
    assert len(audits.listener.warnings) == 1
    assert (audits.root / "out" / "report.html").exists()


def test_a_folder_that_takes_none_is_told_and_the_reports_come(audits: Audits) -> None:
    (audits.root / "out").mkdir()
    (audits.root / "out" / PICTURES_FOLDER).write_bytes(b"a file")
    end = audits.audit(formats=("html", "json"))
    assert end.exit_status == 0
    assert (audits.root / "out" / "audit.json").exists()
    (told,) = audits.listener.warnings
    assert "The page shows small pictures" in told


def test_a_stop_while_drawing_leaves_every_frame_measured(
    audits: Audits, monkeypatch: pytest.MonkeyPatch
) -> None:
    audits.audit(formats=("json",))

    def stop(*_: object) -> Any:
        raise KeyboardInterrupt

    monkeypatch.setattr(audits, "run", stop)
    end = audits.audit()
    assert {frame.status for frame in end.audit.frames} == {"measured"}
    assert not end.audit.complete


def test_an_unknown_word_is_refused(audits: Audits) -> None:
    with pytest.raises(WrongCall, match="--pictures huge: there are none, small, large"):
        audits.audit(pictures="huge")
