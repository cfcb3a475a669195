"""One backup a run: every run can be taken back, and nothing that somebody did since is lost."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from auditor.apply import apply_marks, undo_marks
from auditor.model.errors import WrongCall
from auditor.sidecar.undo import FOLDER, Backup
from tests import foreign_sidecars as foreign
from tests.sidecar_facts import read_rating
from tests.sidecar_folder import RAW, contents, folder_with, marks_on

FILES = ("DCIM/a.dng", "b.dng", "c.dng")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    made = folder_with(tmp_path, *FILES)
    (made / "b.xmp").write_bytes(foreign.LATIN)
    return made


def marked(mark: str) -> object:
    return marks_on(*((file, mark) for file in FILES))


def test_runs_are_taken_back_one_by_one(folder: Path) -> None:
    states = [contents(folder)]
    for mark in ("keep", "drop", "second"):
        apply_marks(marked(mark), folder)  # type: ignore[arg-type]
        states.append(contents(folder))
    assert len(list((folder / FOLDER).iterdir())) == 3
    for state in states[-2::-1]:
        report = undo_marks(folder)
        assert report.complete
        assert contents(folder) == state
    assert report.count("removed") == 2
    assert report.count("restored") == 1
    with pytest.raises(WrongCall, match="no run of apply is left"):
        undo_marks(folder)


def test_a_run_that_changes_nothing_keeps_no_backup(folder: Path) -> None:
    apply_marks(marked("keep"), folder)  # type: ignore[arg-type]
    apply_marks(marked("keep"), folder)  # type: ignore[arg-type]
    apply_marks(marked("drop"), folder, dry_run=True)  # type: ignore[arg-type]
    assert len(list((folder / FOLDER).iterdir())) == 1


def test_what_was_changed_since_stays_and_is_told(folder: Path) -> None:
    apply_marks(marked("keep"), folder)  # type: ignore[arg-type]
    (folder / "b.xmp").write_bytes(foreign.ELEMENTS)
    report = undo_marks(folder)
    assert {one.file: one.action for one in report.applied} == {
        "c.xmp": "removed", "b.xmp": "refused", "DCIM/a.xmp": "removed",
    }  # fmt: skip
    assert (folder / "b.xmp").read_bytes() == foreign.ELEMENTS
    assert not report.complete
    assert undo_marks(folder, replace=True).complete
    assert (folder / "b.xmp").read_bytes() == foreign.LATIN


def test_undoing_can_be_tried(folder: Path) -> None:
    apply_marks(marked("keep"), folder)  # type: ignore[arg-type]
    before = contents(folder)
    report = undo_marks(folder, dry_run=True)
    assert (report.count("removed"), report.count("restored")) == (2, 1)
    assert contents(folder) == before
    assert undo_marks(folder).applied == report.applied


def test_a_line_that_a_kill_cut_off_never_began(folder: Path) -> None:
    apply_marks(marked("keep"), folder)  # type: ignore[arg-type]
    (run,) = (folder / FOLDER).iterdir()
    run.write_bytes(run.read_bytes() + b'{"sidecar": "z.xmp", "bef')
    assert undo_marks(folder).count("removed") == 2


@pytest.mark.parametrize(
    "sidecar",
    ["../out.xmp", "/etc/out.xmp", "link/out.xmp", "a.dng", "", "a\0.xmp", "DCIM/../../out.xmp",
     ".xmp/.."],
)  # fmt: skip
def test_a_backup_made_by_anybody_leads_nowhere_else(
    folder: Path, tmp_path: Path, sidecar: str
) -> None:
    outside = tmp_path / "elsewhere"
    outside.mkdir()
    for path in (outside / "out.xmp", tmp_path / "out.xmp"):
        path.write_bytes(RAW)
    (folder / "link").symlink_to(outside)
    (folder / FOLDER).mkdir()
    line = {"sidecar": sidecar, "before": "aGFybQ==", "after": "0"}
    (folder / FOLDER / "0001.jsonl").write_text(json.dumps(line))
    before = contents(tmp_path)
    report = undo_marks(folder, replace=True)
    assert [one.action for one in report.applied] == ["refused"]
    assert contents(tmp_path) == before


def test_where_no_backup_can_be_kept_nothing_is_written(folder: Path, tmp_path: Path) -> None:
    (tmp_path / "elsewhere").mkdir()
    (folder / FOLDER).symlink_to(tmp_path / "elsewhere")
    before = contents(folder)
    report = apply_marks(marked("keep"), folder)  # type: ignore[arg-type]
    assert report.count("refused") == 3
    assert "backup" in report.applied[0].reason
    assert contents(folder) == before


def test_old_backups_of_any_number_are_counted_on(folder: Path) -> None:
    (folder / FOLDER).mkdir()
    (folder / FOLDER / "9999.jsonl").write_bytes(b"")
    apply_marks(marked("keep"), folder)  # type: ignore[arg-type]
    assert (folder / FOLDER / "10000.jsonl").exists()
    undo_marks(folder)
    assert read_rating(folder / "b.xmp") is None


def test_two_runs_at_once_keep_two_backups(folder: Path) -> None:
    run = Backup(folder)
    real = Path.open

    def opened(path: Path, mode: str) -> object:
        (folder / FOLDER / "0001.jsonl").touch()  # the other run was quicker
        return real(path, mode)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Path, "open", opened)
        run.keep(folder / "b.xmp", b"", b"1")
    run.close(of_use=True)
    assert sorted(path.name for path in (folder / FOLDER).iterdir()) == ["0001.jsonl", "0002.jsonl"]
