"""Reports are written whole, side by side, and one that fails costs only itself."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from auditor.model.audit import SCHEMA_VERSION, Audit
from auditor.model.codes import FrameStatus
from auditor.model.errors import CannotWrite, WrongCall
from auditor.report import write
from auditor.report.desk import Desk, ReportFile
from auditor.report.frame_names import safe_name
from auditor.report.record import RECORD, FolderRecord, digest
from auditor.report.write import (
    ReportJob,
    is_flagged,
    sheet_names,
)
from auditor.words.kinds import KINDS
from tests.builders import DictMeasurementSource, make_audit
from tests.built_hostile import POISON
from tests.elsewhere import Elsewhere, SharedSource
from tests.report_desk import write_reports

Made = tuple[Audit, DictMeasurementSource]
PAGES = ("html", "png", "json", "csv", "md", "pdf")


@pytest.fixture(scope="module")
def made() -> Made:
    return make_audit(24)


@pytest.fixture
def few(made: Made) -> Made:
    """The first frames alone: enough for every format, and quick."""
    audit, measurements = made
    return replace(audit, frames=audit.frames[:5]), measurements


def names_in(folder: Path) -> set[str]:
    found = (p for p in folder.rglob("*") if p.is_file() and p.name != RECORD)
    return {p.relative_to(folder).as_posix() for p in found}


def test_every_format_writes_its_files(made: Made, tmp_path: Path) -> None:
    audit, measurements = made
    written = write_reports(audit, measurements, KINDS, PAGES, tmp_path)
    flagged = [frame for frame in audit.frames if is_flagged(frame)]
    assert flagged
    sheets = {f"sheets/100SELMR-{frame.file[9:]}.png" for frame in flagged}
    assert names_in(tmp_path) == sheets | {
        "report.html", "audit.json", "frames.csv", "report.md", "contact-sheet.png",
        "answer.pdf",
    }  # fmt: skip
    assert {path.relative_to(tmp_path).as_posix() for path in written} == names_in(tmp_path)
    assert json.loads((tmp_path / "audit.json").read_bytes())["schema_version"] == SCHEMA_VERSION


def test_only_what_is_asked_for_is_written(few: Made, tmp_path: Path) -> None:
    write_reports(*few, KINDS, ("json",), tmp_path / "deep" / "er")
    assert names_in(tmp_path) == {"deep/er/audit.json"}


def test_a_reporter_that_fails_costs_only_itself(
    few: Made, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(job: ReportJob) -> Iterator[ReportFile]:
        yield ReportFile("first.txt", lambda: b"whole")
        yield ReportFile("second.txt", lambda: b"%d" % (1 // len(job.kinds)))
        yield ReportFile("third.txt", lambda: b"whole too")
        raise RuntimeError("no more")

    known = write._files
    monkeypatch.setattr(
        write, "_files", lambda form, *of: broken(of[0]) if form == "broken" else known(form, *of)
    )
    (tmp_path / "second.txt").write_bytes(b"the old one")
    with pytest.raises(CannotWrite, match=r"second\.txt.*ZeroDivisionError.*broken.*no more"):
        write_reports(few[0], few[1], {}, ("broken", "json", "csv"), tmp_path)
    assert names_in(tmp_path) == {
        "first.txt", "second.txt", "third.txt", "audit.json", "frames.csv",
    }  # fmt: skip
    assert (tmp_path / "second.txt").read_bytes() == b"the old one"


def test_a_picture_that_cannot_be_had_costs_only_its_sheet(few: Made, tmp_path: Path) -> None:
    audit, measurements = few
    flagged = next(frame for frame in audit.frames if is_flagged(frame))
    poorer = DictMeasurementSource(
        {key: v for key, v in measurements.recipes.items() if key != flagged.id}
    )
    with pytest.raises(CannotWrite, match="KeyError"):
        write_reports(audit, poorer, KINDS, ("png", "csv"), tmp_path)
    assert {"contact-sheet.png", "frames.csv"} <= names_in(tmp_path)


def test_where_nothing_can_be_written_it_is_said(few: Made, tmp_path: Path) -> None:
    (tmp_path / "file").write_bytes(b"")
    with pytest.raises(CannotWrite, match="file/"):
        write_reports(*few, KINDS, ("json", "csv"), tmp_path / "file")


@pytest.mark.parametrize(
    "name", ["../out.txt", "/out.txt", "a/../../out.txt", "a\\..\\out.txt", ""]
)
def test_nothing_lands_outside_the_folder(
    few: Made, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    files = {name: (b"beside",), "report.html": (b"page",)}.items()
    monkeypatch.setattr("auditor.report.html.html_files", lambda *_, **_asked: files)
    with pytest.raises(CannotWrite):
        write_reports(*few, KINDS, ("html",), tmp_path / "out")
    assert names_in(tmp_path) == {"out/report.html"}


def test_each_path_is_looked_at_before_it_is_written(few: Made, tmp_path: Path) -> None:
    def look(path: Path) -> None:
        if path.name == "audit.json":
            raise WrongCall("Not there, please.")

    with pytest.raises(CannotWrite, match="Not there, please"):
        write_reports(*few, KINDS, ("json", "csv"), tmp_path, look=look)
    assert names_in(tmp_path) == {"frames.csv"}


def test_files_beside_the_page_come_before_it(
    few: Made, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    files = {"pictures/1.jpg": (b"one",), "report.html": (b"page",)}.items()
    monkeypatch.setattr("auditor.report.html.html_files", lambda *_, **_asked: files)
    written = write_reports(*few, KINDS, ("html",), tmp_path)
    assert [path.name for path in written] == ["1.jpg", "report.html"]
    assert (tmp_path / "pictures/1.jpg").read_bytes() == b"one"


def test_sheets_of_an_earlier_audit_go_and_other_pictures_stay(few: Made, tmp_path: Path) -> None:
    audit, measurements = few
    write_reports(audit, measurements, KINDS, ("png",), tmp_path)
    before = names_in(tmp_path)
    ours = (tmp_path / "contact-sheet.png").read_bytes()
    (tmp_path / "contact-sheet-2.png").write_bytes(ours)
    (tmp_path / "contact-sheet-mine.png").write_bytes(b"\x89PNG somebody's own")
    (tmp_path / "sheets/old.dng.png").write_bytes(ours)
    (tmp_path / "sheets/keepsake.png").write_bytes(b"\x89PNG somebody's own")
    (tmp_path / "sheets/by-itself.dng.png").write_bytes(ours)
    (tmp_path / "sheets/by-itself.dng.json").write_bytes(b"{}")
    write_reports(audit, measurements, KINDS, ("png",), tmp_path)
    assert names_in(tmp_path) == before | {
        "contact-sheet-mine.png", "sheets/keepsake.png",
        "sheets/by-itself.dng.png", "sheets/by-itself.dng.json",
    }  # fmt: skip


def test_an_earlier_picture_that_cannot_be_removed_stays(
    few: Made, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(path: Path, missing_ok: bool = False) -> None:
        raise PermissionError(13, "no", str(path))

    write_reports(*few, KINDS, ("png",), tmp_path)
    old = tmp_path / "contact-sheet-2.png"
    old.write_bytes((tmp_path / "contact-sheet.png").read_bytes())
    monkeypatch.setattr(Path, "unlink", refuse)
    written = write_reports(*few, KINDS, ("png",), tmp_path)
    assert tmp_path / "contact-sheet.png" in written
    assert old.exists()


def test_sheets_are_for_measured_frames_that_lost_something(made: Made) -> None:
    for frame in made[0].frames:
        severities = {finding.severity.value for finding in frame.findings}
        expected = frame.status == FrameStatus.MEASURED and "lost" in severities
        assert (frame.id in sheet_names(made[0])) == expected


def test_hostile_names_give_plain_and_different_file_names() -> None:
    audit, _gallery = make_audit(24, hostile=True)
    names = sheet_names(audit)
    assert len({name.casefold() for name in names.values()}) == len(names)
    for name in [*names.values(), *(safe_name(text) for text in POISON)]:
        assert name.isascii()
        assert name[0] not in ".-"
        assert not set(name) & set('/\\:*?"<>| \0')
        assert len(name) <= 100


@pytest.mark.parametrize(
    ("frame_id", "name"),
    [
        ("100SELMR/S0001.dng", "100SELMR-S0001.dng"),
        ("2:100SELMR/S0001.dng", "2-100SELMR-S0001.dng"),
        ("../../etc", "etc"),
        ("CON.dng", "_CON.dng"),
        ("aux", "_aux"),
        ("漢字", "frame"),
        ("", "frame"),
    ],
)
def test_safe_names(frame_id: str, name: str) -> None:
    assert safe_name(frame_id) == name


def test_names_that_come_to_the_same_are_numbered(made: Made) -> None:
    audit = made[0]
    flagged = next(frame for frame in audit.frames if is_flagged(frame))
    twins = tuple(replace(flagged, id=name) for name in ("a/b", "a-b", "A:B"))
    assert list(sheet_names(replace(audit, frames=twins)).values()) == [
        "a-b.png", "a-b-2.png", "A-B-3.png",
    ]  # fmt: skip


def test_pictures_are_loaded_only_when_asked_for() -> None:
    code = (
        "import sys, auditor.report.write\n"
        "print(sorted({'matplotlib', 'PIL', 'jinja2'} & set(sys.modules)))"
    )
    assert subprocess.check_output([sys.executable, "-c", code], text=True).strip() == "[]"


@pytest.mark.parametrize("formats", [("json", "html"), ("html",)], ids="+".join)
def test_a_page_is_of_the_same_whether_its_figures_were_written_or_not(
    few: Made, formats: tuple[str, ...], tmp_path: Path
) -> None:
    """And at another moment, but not with other figures."""
    audit, measurements = few
    later, other = replace(audit, made_at="2032-01-01T00:00:00+00:00"), replace(audit, frames=())
    marks = []
    for told in (audit, later, other):
        contents = {frame.id: "content" for frame in audit.frames}
        job = ReportJob(told, measurements, KINDS, contents=contents)
        if "json" in formats:
            desk = Desk(FolderRecord(tmp_path))
            write.write_reports(job, ("json",), desk)
            name = "audit.json"
            assert desk.record.files[name].content == digest((tmp_path / name).read_bytes())
        marks.append(job.made_of)
    assert marks[0] == marks[1] != marks[2]


def test_a_file_that_holds_what_would_be_written_is_left(tmp_path: Path) -> None:
    """One that somebody changed, and one that no audit wrote, are written."""
    record = FolderRecord(tmp_path)
    Desk(record).write("a.jpg", "html", lambda: b"picture")
    first = (tmp_path / "a.jpg").stat().st_ino
    again = Desk(record)
    again.write("a.jpg", "html", lambda: b"picture", "newer")
    assert ((tmp_path / "a.jpg").stat().st_ino, again.unchanged) == (first, 1)
    assert again.written == [tmp_path / "a.jpg"]
    assert record.files["a.jpg"].made_of == "newer"
    (tmp_path / "a.jpg").write_bytes(b"changed")
    (tmp_path / "b.jpg").write_bytes(b"picture")
    for name in ("a.jpg", "b.jpg"):
        again.write(name, "html", lambda: b"picture")
    assert (again.unchanged, (tmp_path / "a.jpg").read_bytes()) == (1, b"picture")


@pytest.mark.parametrize("form", ["json", "csv", "html"])
@pytest.mark.parametrize("fewer", [0, 1])
def test_from_where_on_frames_are_written_by_other_processes(
    few: Made, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, form: str, fewer: int
) -> None:
    audit, measurements = few
    monkeypatch.setattr("auditor.report.write.APART_FROM", len(audit.frames) + fewer)
    engine, shared = Elsewhere(), SharedSource(measurements.recipes)
    write_reports(audit, shared, KINDS, (form,), tmp_path, engine=engine)
    assert bool(engine.sent) is not bool(fewer)
