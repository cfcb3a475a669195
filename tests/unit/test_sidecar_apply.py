"""Marks become sidecars: both naming habits, merged, told, and never more than asked."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from auditor.apply import apply_marks, undo_marks
from auditor.model.errors import WrongCall
from auditor.sidecar.marks import MARKS_SCHEMA, Mark, Marks
from tests import foreign_sidecars as foreign
from tests.sidecar_facts import SidecarFacts, read_rating, read_sidecar
from tests.sidecar_folder import RAW, contents, folder_with, marks_on


def only(report: object) -> tuple[str, str]:
    (one,) = report.applied  # type: ignore[attr-defined]
    return one.action, one.reason


@pytest.mark.parametrize(
    ("mark", "rating", "label"),
    [("keep", 4, "Keep"), ("second", 2, "Second"), ("drop", -1, "Drop")],
)
def test_a_mark_becomes_rating_label_and_note(
    tmp_path: Path, mark: str, rating: float, label: str
) -> None:
    folder = folder_with(tmp_path, "100SELMR/S0001.dng")
    report = apply_marks(marks_on(("100SELMR/S0001.dng", mark, "tide line")), folder)
    sidecar = folder / "100SELMR/S0001.xmp"
    assert read_sidecar(sidecar) == SidecarFacts(rating, label, "tide line")
    assert read_rating(sidecar) == rating
    assert report.count("created") == 1
    assert report.complete
    assert report.applied[0].changes == (
        f"rating {rating}",
        f"label {label}",
        "description tide line",
    )


def test_the_marks_file_itself_may_be_given(tmp_path: Path) -> None:
    folder = folder_with(tmp_path, "a.dng")
    table = {"schema": MARKS_SCHEMA, "marks": [{"file": "a.dng", "mark": "second"}]}
    (tmp_path / "marks.json").write_text(json.dumps(table))
    assert apply_marks(tmp_path / "marks.json", folder).count("created") == 1


def test_new_sidecars_may_be_named_in_full(tmp_path: Path) -> None:
    folder = folder_with(tmp_path, "a.dng")
    apply_marks(marks_on(("a.dng", "drop")), folder, naming="full")
    assert set(contents(folder)) == {"a.dng", "a.dng.xmp"}


@pytest.mark.parametrize("there", ["a.xmp", "a.dng.xmp", "a.XMP", "a.dng.XMP"])
@pytest.mark.parametrize("naming", ["stem", "full"])
def test_the_sidecar_that_is_there_is_updated(tmp_path: Path, there: str, naming: str) -> None:
    folder = folder_with(tmp_path, "a.dng")
    (folder / there).write_bytes(foreign.ELEMENTS)
    report = apply_marks(marks_on(("a.dng", "keep")), folder, naming=naming)  # type: ignore[arg-type]
    assert only(report) == ("updated", "")
    assert report.applied[0].changes == ("rating 4",)
    assert report.applied[0].kept == ("label second look is not ours and stays",)
    assert read_rating(folder / there) == 4
    assert set(contents(folder)) == {"a.dng", there}


def test_where_both_are_there_the_full_name_wins_and_it_is_told(tmp_path: Path) -> None:
    folder = folder_with(tmp_path, "a.dng")
    for name in ("a.xmp", "a.dng.xmp"):
        (folder / name).write_bytes(foreign.LATIN)
    report = apply_marks(marks_on(("a.dng", "drop")), folder)
    assert only(report) == ("updated", "a.xmp stands beside it and was left alone")
    assert read_rating(folder / "a.dng.xmp") == -1
    assert (folder / "a.xmp").read_bytes() == foreign.LATIN


@pytest.mark.parametrize("content", foreign.FOREIGN.values(), ids=foreign.FOREIGN)
def test_a_foreign_sidecar_survives_and_is_kept_as_it_was(tmp_path: Path, content: bytes) -> None:
    folder = folder_with(tmp_path, "a.dng")
    (folder / "a.xmp").write_bytes(content)
    marks = marks_on(("a.dng", "keep", "n"))
    assert apply_marks(marks, folder, replace=True).count("updated") == 1
    after = (folder / "a.xmp").read_bytes()
    assert foreign.foreign_parts(after) == foreign.foreign_parts(content)
    assert (folder / "a.dng").read_bytes() == RAW
    undo_marks(folder)
    assert contents(folder) == {"a.dng": RAW, "a.xmp": content}


def test_the_same_marks_again_write_nothing(tmp_path: Path) -> None:
    folder = folder_with(tmp_path, "a.dng")
    marks = marks_on(("a.dng", "keep", "a  note\r\nof two lines\t"))
    apply_marks(marks, folder)
    before, stamp = contents(folder), (folder / "a.xmp").stat().st_mtime_ns
    assert only(apply_marks(marks, folder)) == ("unchanged", "")
    assert (contents(folder), (folder / "a.xmp").stat().st_mtime_ns) == (before, stamp)


def test_a_double_rating_is_mended(tmp_path: Path) -> None:
    folder = folder_with(tmp_path, "a.dng")
    (folder / "a.xmp").write_bytes(foreign.TWICE)
    report = apply_marks(marks_on(("a.dng", "keep")), folder)
    assert report.applied[0].kept == ("rating 1 and 5 and 3 is not ours and stays",)
    report = apply_marks(marks_on(("a.dng", "keep")), folder, replace=True)
    assert report.applied[0].changes[0] == "rating 1 and 5 and 3 to 4"
    assert (folder / "a.xmp").read_bytes().count(b":Rating=") == 0


def test_no_mark_and_no_note_leave_what_is_there(tmp_path: Path) -> None:
    folder = folder_with(tmp_path, "a.dng", "b.dng")
    (folder / "a.xmp").write_bytes(foreign.ELEMENTS)
    report = apply_marks(marks_on(("a.dng", None, "only words"), ("b.dng", None)), folder)
    assert [(one.file, one.action) for one in report.applied] == [("a.dng", "unchanged")]
    assert (folder / "a.xmp").read_bytes() == foreign.ELEMENTS
    (folder / "a.xmp").write_bytes(foreign.LATIN)
    apply_marks(marks_on(("a.dng", None, "only words"), ("b.dng", None)), folder)
    assert read_sidecar(folder / "a.xmp") == SidecarFacts(None, None, "only words")


def test_a_dry_run_tells_all_and_writes_nothing(tmp_path: Path) -> None:
    folder = folder_with(tmp_path, "a.dng", "b.dng", "c.dng")
    (folder / "a.xmp").write_bytes(foreign.ELEMENTS)
    (folder / "c.xmp").write_bytes(b"<broken")
    before = contents(folder)
    marks = marks_on(("a.dng", "drop"), ("b.dng", "keep"), ("c.dng", "second"), ("d.dng", "keep"))
    dry = apply_marks(marks, folder, dry_run=True)
    assert contents(folder) == before
    assert [one.action for one in dry.applied] == ["updated", "created", "refused", "missing"]
    assert not dry.complete
    real = apply_marks(marks, folder)
    assert real.applied == dry.applied


def test_a_dry_run_counts_a_sidecar_of_two_frames_once(tmp_path: Path) -> None:
    folder = folder_with(tmp_path, "a.dng", "a.raf")
    marks = marks_on(("a.dng", "keep"), ("a.raf", "keep"))
    dry = apply_marks(marks, folder, dry_run=True)
    assert [one.action for one in dry.applied] == ["created", "unchanged"]
    assert apply_marks(marks, folder).applied == dry.applied


def test_an_empty_folder_collects_the_sidecars(tmp_path: Path) -> None:
    folder = folder_with(tmp_path)
    marks = marks_on(("100SELMR/a.dng", "keep"), ("100SELMR/b.dng", "drop"))
    for action in ("created", "unchanged"):
        assert apply_marks(marks, folder).count(action) == 2
    assert set(contents(folder)) == {"100SELMR/a.xmp", "100SELMR/b.xmp"}


def test_a_wrong_folder_is_not_littered(tmp_path: Path) -> None:
    folder = folder_with(tmp_path, "letters.txt")
    assert only(apply_marks(marks_on(("a.dng", "keep")), folder)) == (
        "missing",
        "no such file under the folder",
    )
    assert set(contents(folder)) == {"letters.txt"}


def test_a_flat_copy_is_found_by_name_and_it_is_told(tmp_path: Path) -> None:
    folder = folder_with(tmp_path, "a.dng")
    report = apply_marks(marks_on(("DCIM/100SELMR/a.dng", "keep")), folder)
    assert only(report) == ("created", "found as a.dng")


def test_a_name_that_two_frames_share_is_not_guessed(tmp_path: Path) -> None:
    folder = folder_with(tmp_path, "a.dng")
    marks = marks_on(("100SELMR/a.dng", "keep"), ("101SELMR/a.dng", "drop"))
    assert apply_marks(marks, folder).count("missing") == 2


def test_one_folder_of_the_card_takes_its_own_frames_only(tmp_path: Path) -> None:
    folder = folder_with(tmp_path, "100SELMR/a.dng", "100SELMR/b.dng") / "100SELMR"
    marks = marks_on(
        ("DCIM/100SELMR/a.dng", "keep"), ("DCIM/101SELMR/a.dng", "drop"),
        ("DCIM/101SELMR/b.dng", "drop"),
    )  # fmt: skip
    report = apply_marks(marks, folder)
    assert [one.action for one in report.applied] == ["created", "missing", "missing"]
    assert read_rating(folder / "a.xmp") == 4


def test_two_frames_of_one_stem_marked_differently_are_refused(tmp_path: Path) -> None:
    folder = folder_with(tmp_path, "a.dng", "a.raf")
    marks = marks_on(("a.dng", "keep"), ("a.raf", "drop"))
    assert apply_marks(marks, folder).count("refused") == 2
    assert apply_marks(marks, folder, naming="full").count("created") == 2
    assert read_rating(folder / "a.raf.xmp") == -1


def test_two_cards_of_the_same_names_are_told_apart_by_input(tmp_path: Path) -> None:
    folder = folder_with(tmp_path, "a.dng")
    marks = Marks((Mark("a.dng", "a.dng", 0, "keep"), Mark("2:a.dng", "a.dng", 1, "drop")))
    assert apply_marks(marks, folder).count("refused") == 2
    assert only(apply_marks(marks, folder, only_input=2)) == ("created", "")
    assert read_rating(folder / "a.xmp") == -1


@pytest.mark.parametrize("naming", ["", "both"])
def test_an_unknown_naming_is_refused(tmp_path: Path, naming: str) -> None:
    with pytest.raises(WrongCall, match="naming"):
        apply_marks(marks_on(), tmp_path, naming=naming)  # type: ignore[arg-type]


def test_a_folder_that_is_not_there_is_refused(tmp_path: Path) -> None:
    with pytest.raises(WrongCall, match="no such folder"):
        apply_marks(marks_on(), tmp_path / "none")
