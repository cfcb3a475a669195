"""What a person or another program set stays; what we wrote and nobody changed follows."""

from __future__ import annotations

from pathlib import Path

import pytest

from auditor.apply import apply_marks, undo_marks
from auditor.model.errors import WrongCall
from auditor.sidecar.marks import Mark, Marks
from auditor.sidecar.merge import MARK, MARKED_BY, REASONS, RECORDS
from auditor.sidecar.packet import DESCRIPTION, LABEL, RATING, read_packet
from tests import foreign_sidecars as foreign
from tests.sidecar_facts import SidecarFacts, read_sidecar
from tests.sidecar_folder import RAW, contents, folder_with, marks_on


def audit_chose(*entries: tuple[str, str | None, str]) -> Marks:
    marks = tuple(Mark(file, file, 0, mark, "", reasons) for file, mark, reasons in entries)
    return Marks(marks, by_audit=True)


def edit(sidecar: Path, name: str, value: str | None) -> None:
    """Change a property as another program would, and nothing else."""
    sidecar.write_bytes(read_packet(sidecar.read_bytes()).changed({name: value}))


def facts(folder: Path) -> SidecarFacts:
    return read_sidecar(folder / "a.xmp")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return folder_with(tmp_path, "a.dng")


@pytest.mark.parametrize("rating", ["5", "1", "-1", "3.5", "odd"])
@pytest.mark.parametrize("mark", ["keep", "second", "drop"])
def test_a_rating_that_was_there_is_never_touched(folder: Path, rating: str, mark: str) -> None:
    content = foreign.ATTRIBUTES.replace(b'Rating="2"', f'Rating="{rating}"'.encode())
    for marks in (marks_on(("a.dng", mark)), audit_chose(("a.dng", mark, "why"))):
        (folder / "a.xmp").write_bytes(content)
        report = apply_marks(marks, folder)
        after = read_packet((folder / "a.xmp").read_bytes())
        if (mark, rating) != ("drop", "-1"):
            assert report.applied[0].kept[0] == f"rating {rating} is not ours and stays"
        assert after.texts_of(RATING) == [rating]


def test_the_audits_choice_writes_nothing_where_somebody_has_rated(folder: Path) -> None:
    (folder / "a.xmp").write_bytes(foreign.ATTRIBUTES)
    report = apply_marks(audit_chose(("a.dng", "keep", "sharpest")), folder)
    assert report.applied[0].action == "unchanged"
    assert contents(folder) == {"a.dng": RAW, "a.xmp": foreign.ATTRIBUTES}
    assert not (folder / ".auditor-undo").exists()


def test_a_label_and_a_caption_that_were_there_stay_and_the_empty_place_is_filled(
    folder: Path,
) -> None:
    (folder / "a.xmp").write_bytes(foreign.ELEMENTS)
    report = apply_marks(marks_on(("a.dng", "keep", "my words")), folder)
    assert facts(folder) == SidecarFacts(4, "second look", "Selmer Sands at dusk")
    assert report.applied[0].kept == (
        "label second look is not ours and stays",
        "description Selmer Sands at dusk is not ours and stays",
    )
    assert report.complete


def test_what_we_wrote_follows_the_new_marks(folder: Path) -> None:
    apply_marks(marks_on(("a.dng", "keep", "first")), folder)
    report = apply_marks(marks_on(("a.dng", "drop", "then")), folder)
    assert facts(folder) == SidecarFacts(-1, "Drop", "then")
    assert report.applied[0].changes == (
        "rating 4 to -1", "label Keep to Drop", "description first to then",
    )  # fmt: skip
    assert report.applied[0].kept == ()


def test_a_mark_and_a_note_taken_back_are_taken_out(folder: Path) -> None:
    apply_marks(marks_on(("a.dng", "keep", "first")), folder)
    report = apply_marks(marks_on(("a.dng", None)), folder)
    assert facts(folder) == SidecarFacts(None, None, None)
    assert report.applied[0].action == "updated"
    assert apply_marks(marks_on(("a.dng", None)), folder).applied == ()
    packet = read_packet((folder / "a.xmp").read_bytes())
    assert not any(packet.text_of(name) for name in (MARK, MARKED_BY, *RECORDS.values()))


@pytest.mark.parametrize(
    ("name", "value"), [(RATING, "5"), (LABEL, "Winner"), (DESCRIPTION, "Ebb at Selmer")]
)
def test_what_was_changed_since_is_somebody_elses(folder: Path, name: str, value: str) -> None:
    apply_marks(marks_on(("a.dng", "keep", "first")), folder)
    edit(folder / "a.xmp", name, value)
    report = apply_marks(marks_on(("a.dng", "second", "then")), folder)
    assert read_packet((folder / "a.xmp").read_bytes()).text_of(name) == value
    assert len(report.applied[0].kept) == 1
    assert len(report.applied[0].changes) == 2


@pytest.mark.parametrize("value", [None, "0"])
def test_what_was_taken_out_since_stays_out(folder: Path, value: str | None) -> None:
    apply_marks(marks_on(("a.dng", "keep")), folder)
    edit(folder / "a.xmp", RATING, value)
    report = apply_marks(marks_on(("a.dng", "second")), folder)
    assert report.applied[0].kept == ("rating was taken out by somebody and stays out",)
    assert facts(folder).label == "Second"
    assert not facts(folder).rating


def test_other_programs_may_move_and_rewrite_what_we_wrote(folder: Path) -> None:
    apply_marks(marks_on(("a.dng", "keep", "first")), folder)
    sidecar = folder / "a.xmp"
    moved = sidecar.read_bytes().replace(b'xmp:Rating="4"', b'xmp:Rating="4.0"')
    sidecar.write_bytes(moved.replace(b"<rdf:Alt>", b"\n <rdf:Alt>"))
    apply_marks(marks_on(("a.dng", "drop", "then")), folder)
    assert facts(folder) == SidecarFacts(-1, "Drop", "then")


def test_replace_overrules_and_undo_takes_it_back(folder: Path) -> None:
    (folder / "a.xmp").write_bytes(foreign.ELEMENTS)
    marks = marks_on(("a.dng", "drop", "mine"))
    apply_marks(marks, folder, replace=True)
    assert facts(folder) == SidecarFacts(-1, "Drop", "mine")
    assert undo_marks(folder).count("restored") == 1
    assert contents(folder) == {"a.dng": RAW, "a.xmp": foreign.ELEMENTS}


def test_the_audits_reasons_stand_in_our_own_field(folder: Path) -> None:
    report = apply_marks(audit_chose(("a.dng", "keep", "sharpest")), folder)
    assert facts(folder) == SidecarFacts(4, "Keep", None)
    packet = read_packet((folder / "a.xmp").read_bytes())
    assert packet.text_of(REASONS) == "sharpest"
    assert report.applied[0].changes == ("rating 4", "label Keep", "reasons sharpest")


def test_the_audits_choice_follows_the_next_audit(folder: Path) -> None:
    apply_marks(audit_chose(("a.dng", "keep", "sharpest")), folder)
    apply_marks(audit_chose(("a.dng", "second", "")), folder)
    assert facts(folder) == SidecarFacts(2, "Second", None)
    apply_marks(audit_chose(("a.dng", None, "")), folder)
    assert facts(folder) == SidecarFacts(None, None, None)


@pytest.mark.parametrize("later", ["keep", "second", None])
def test_the_audit_never_replaces_the_photographers_mark(folder: Path, later: str | None) -> None:
    apply_marks(marks_on(("a.dng", "drop", "soft")), folder)
    before = contents(folder)
    report = apply_marks(audit_chose(("a.dng", later, "")), folder)
    assert contents(folder) == before
    assert [one.kept for one in report.applied] == [("your own mark stays",)] * (later is not None)


def test_the_photographers_mark_replaces_the_audits(folder: Path) -> None:
    apply_marks(audit_chose(("a.dng", "keep", "sharpest")), folder)
    report = apply_marks(marks_on(("a.dng", "keep")), folder)
    assert report.applied[0].changes == ("recorded as yours",)
    apply_marks(audit_chose(("a.dng", "second", "")), folder)
    assert facts(folder).rating == 4
    assert read_packet((folder / "a.xmp").read_bytes()).text_of(REASONS) is None


def test_a_note_alone_leaves_the_audits_choice(folder: Path) -> None:
    apply_marks(audit_chose(("a.dng", "keep", "sharpest")), folder)
    apply_marks(marks_on(("a.dng", None, "ebb")), folder)
    assert facts(folder) == SidecarFacts(4, "Keep", "ebb")
    apply_marks(audit_chose(("a.dng", "second", "")), folder)
    assert facts(folder) == SidecarFacts(2, "Second", "ebb")


@pytest.mark.parametrize("there", ["a.dng.xmp", "a.xmp"])
def test_a_rating_in_the_other_programs_sidecar_counts(folder: Path, there: str) -> None:
    other = {"a.dng.xmp": "a.xmp", "a.xmp": "a.dng.xmp"}[there]
    (folder / there).write_bytes(foreign.ATTRIBUTES.replace(b'Rating="2"', b'Rating="5"'))
    (folder / other).write_bytes(foreign.LATIN)
    report = apply_marks(marks_on(("a.dng", "drop")), folder)
    assert report.applied[0].kept == ("rating 5 is not ours and stays",)
    assert all(read_sidecar(folder / name).rating != -1 for name in (there, other))


def test_labels_are_those_asked_for_and_follow(folder: Path) -> None:
    colours = ("Green", "Yellow", "Red")
    apply_marks(marks_on(("a.dng", "keep")), folder, labels=colours)
    assert facts(folder).label == "Green"
    apply_marks(marks_on(("a.dng", "drop")), folder, labels=("Gut", "Mittel", "Fort mit dir"))
    assert facts(folder) == SidecarFacts(-1, "Fort mit dir", None)


def test_the_longest_label_is_taken(folder: Path) -> None:
    apply_marks(marks_on(("a.dng", "keep")), folder, labels=("a" * 64, "b", "c"))
    assert facts(folder).label == "a" * 64


@pytest.mark.parametrize(
    "labels",
    [
        ("a", "b"),
        ("a", "b", "b"),
        ("a", "", "c"),
        ("a", " b", "c"),
        ("a", "b\u202e", "c"),
        ("a" * 65, "b", "c"),
    ],
)
def test_labels_that_cannot_be_are_refused(folder: Path, labels: tuple[str, ...]) -> None:
    with pytest.raises(WrongCall, match=r"label"):
        apply_marks(marks_on(("a.dng", "keep")), folder, labels=labels)
    assert contents(folder) == {"a.dng": RAW}


def test_a_dry_run_tells_what_would_be_kept(folder: Path) -> None:
    (folder / "a.xmp").write_bytes(foreign.ELEMENTS)
    marks = marks_on(("a.dng", "keep", "words"))
    dry = apply_marks(marks, folder, dry_run=True)
    assert contents(folder) == {"a.dng": RAW, "a.xmp": foreign.ELEMENTS}
    assert dry.applied == apply_marks(marks, folder).applied


def test_replacing_by_the_audit_records_the_audit(folder: Path) -> None:
    apply_marks(marks_on(("a.dng", "drop")), folder)
    apply_marks(audit_chose(("a.dng", "keep", "")), folder, replace=True)
    assert facts(folder).rating == 4
    assert read_packet((folder / "a.xmp").read_bytes()).text_of(MARKED_BY) == "audit"
