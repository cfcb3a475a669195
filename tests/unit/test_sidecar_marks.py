"""Marks come from the report's file or from the audit's own verdict, and nothing else."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from auditor.model.codes import FrameStatus
from auditor.model.errors import WrongCall
from auditor.sidecar.from_audit import marks_from_audit
from auditor.sidecar.marks import MARKS_SCHEMA, Mark, read_marks
from auditor.words.kinds import KINDS


def written(path: Path, table: Any) -> Path:
    path.write_text(json.dumps(table), encoding="utf-8")
    return path


def test_marks_are_read_as_the_report_saved_them(tmp_path: Path) -> None:
    marks = read_marks(
        written(
            tmp_path / "marks.json",
            {
                "schema": MARKS_SCHEMA,
                "made_at": "2031-09-15T08:00:00Z",
                "audit_made_at": "2031-09-14T22:00:00Z",
                "marks": [
                    {"frame": "2:a/b.dng", "file": "a/b.dng", "input": 1, "mark": "drop",
                     "note": "soft", "extra": 1},
                    {"frame": "c.dng", "file": "c.dng", "input": 0, "mark": None, "note": ""},
                ],
            },
        )
    )  # fmt: skip
    assert marks.marks == (
        Mark("2:a/b.dng", "a/b.dng", 1, "drop", "soft"),
        Mark("c.dng", "c.dng", 0, None, ""),
    )
    assert (marks.made_at, marks.audit_made_at) == ("2031-09-15T08:00:00Z", "2031-09-14T22:00:00Z")
    assert not marks.by_audit
    assert [mark.says_something for mark in marks.marks] == [True, False]


@pytest.mark.parametrize(
    ("table", "complaint"),
    [
        ([], "neither"),
        ({"marks": []}, "not a marks file"),
        ({"schema": "exposure-auditor marks 9", "marks": []}, "not a marks file"),
        ({"schema": MARKS_SCHEMA}, "holds no list of marks"),
        ({"schema": MARKS_SCHEMA, "marks": {}}, "list"),
        ({"schema": MARKS_SCHEMA, "marks": ["a.dng"]}, "list"),
        ({"schema": MARKS_SCHEMA, "marks": [{"file": "a", "mark": "best"}]}, "keep, second, drop"),
        ({"schema": MARKS_SCHEMA, "marks": [{"file": "a", "mark": ["drop"]}]}, "keep, second"),
        ({"schema": MARKS_SCHEMA, "marks": [{"file": 7}]}, "file must be text"),
        ({"schema": MARKS_SCHEMA, "marks": [{"frame": "x"}]}, "names no file"),
        ({"schema": MARKS_SCHEMA, "marks": [{"file": "a", "input": -1}]}, "input"),
        ({"schema": MARKS_SCHEMA, "marks": [{"file": "a", "input": True}]}, "input"),
        ({"schema": MARKS_SCHEMA, "marks": [{"file": "a", "note": 5}]}, "note must be text"),
    ],
)
def test_a_file_that_is_no_marks_file_is_refused(
    tmp_path: Path, table: Any, complaint: str
) -> None:
    with pytest.raises(WrongCall, match=complaint):
        read_marks(written(tmp_path / "marks.json", table))


@pytest.mark.parametrize("content", [b"", b"{", b"\xff\xfe\x00", b"[" * 100_000])
def test_what_is_no_json_is_refused(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "marks.json").write_bytes(content)
    with pytest.raises(WrongCall, match=r"marks\.json"):
        read_marks(tmp_path / "marks.json")


def test_a_missing_file_is_told(tmp_path: Path) -> None:
    with pytest.raises(WrongCall, match="cannot be read"):
        read_marks(tmp_path / "none.json")


def test_a_marks_file_of_the_first_kind_is_still_read(tmp_path: Path) -> None:
    words = ["keeper", "spare", "drop", None]
    table = {
        "schema": "exposure-auditor marks 1",
        "marks": [{"file": f"{n}.dng", "mark": word} for n, word in enumerate(words)],
    }
    marks = read_marks(written(tmp_path / "marks.json", table))
    assert [mark.mark for mark in marks.marks] == ["keep", "second", "drop", None]
    table["marks"] = [{"file": "a.dng", "mark": "keep"}]
    assert read_marks(written(tmp_path / "marks.json", table)).marks[0].mark == "keep"
    table["schema"] = MARKS_SCHEMA
    table["marks"] = [{"file": "a.dng", "mark": "keeper"}]
    with pytest.raises(WrongCall, match="keep, second, drop"):
        read_marks(written(tmp_path / "marks.json", table))


def frame(name: str, blown: float | None = 0.001, blocked: float | None = 0.01, **more: Any) -> Any:
    shares = {"blown_fraction": blown, "blocked_fraction": blocked}
    return {"id": name, "file": name, "input": 0, "status": FrameStatus.MEASURED, **shares, **more}


AUDIT: dict[str, Any] = {
    "schema_version": "2.0",
    "made_at": "2031-09-14T22:00:00Z",
    "inputs": ["/media/card"],
    "frames": [frame(f"{letter}.dng") for letter in "abcdef"],
    "keepers": [
        {"setup": "1", "frame": "a.dng", "why": ["Sharpest.", "Nothing blown."],
         "rank": ["a.dng", "b.dng"]},
    ],
    "brackets": [{"setup": "2", "needed": ["c.dng", "b.dng"], "not_needed": ["d.dng", "c.dng"]}],
}  # fmt: skip


def choice(tmp_path: Path, audit: dict[str, Any]) -> dict[str, str | None]:
    marks = marks_from_audit(written(tmp_path / "audit.json", audit)).marks
    return {mark.file: mark.mark for mark in marks if mark.mark}


def test_the_audits_choice_becomes_marks_and_never_a_drop(tmp_path: Path) -> None:
    marks = marks_from_audit(written(tmp_path / "audit.json", AUDIT))
    assert {mark.file: mark.mark for mark in marks.marks} == {
        "a.dng": "keep", "b.dng": "keep", "c.dng": "keep", "d.dng": "second",
        "e.dng": None, "f.dng": None,
    }  # fmt: skip
    assert marks.by_audit
    assert (marks.marks[0].note, marks.marks[0].reasons) == ("", "Sharpest. Nothing blown.")
    assert marks.marks[1].reasons == "needed to cover the range of its bracket"
    assert (marks.audit_made_at, marks.inputs) == (AUDIT["made_at"], ("/media/card",))


def test_an_audit_of_the_first_schema_is_read_alike(tmp_path: Path) -> None:
    (bracket,) = AUDIT["brackets"]
    older = {"setup": "2", "needed": bracket["needed"], "spare": bracket["not_needed"]}
    audit = {**AUDIT, "schema_version": "1.1", "brackets": [older]}
    assert choice(tmp_path, audit) == choice(tmp_path, AUDIT)


@pytest.mark.parametrize(
    "lost",
    [{"blown": 0.44}, {"blocked": 0.44}, {"blown": 0.08, "blocked": 0.05}, {"blown": None}],
    ids=str,
)
@pytest.mark.parametrize("name", ["a.dng", "d.dng"], ids=["best", "behind"])
def test_a_frame_that_lost_much_is_no_suggestion(
    tmp_path: Path, lost: dict[str, Any], name: str
) -> None:
    frames = [frame(name, **lost) if f["id"] == name else f for f in AUDIT["frames"]]
    assert name not in choice(tmp_path, {**AUDIT, "frames": frames})


def test_a_frame_that_lost_little_is_a_second(tmp_path: Path) -> None:
    for share, told in ((0.08, True), (0.12, False)):
        frames = [frame("d.dng", 0.0, share) if f["id"] == "d.dng" else f for f in AUDIT["frames"]]
        assert ("d.dng" in choice(tmp_path, {**AUDIT, "frames": frames})) is told


def test_a_frame_far_under_is_no_suggestion(tmp_path: Path) -> None:
    """Neither as the best of its kind nor behind it; the name of older audits counts as well."""
    for field in ("headroom_stops", "spare_stops"):
        for stops, told in ((3.2, True), (4.8, False)):
            for name in ("a.dng", "d.dng"):
                dark = frame(name, **{field: stops})
                frames = [dark if f["id"] == name else f for f in AUDIT["frames"]]
                assert (name in choice(tmp_path, {**AUDIT, "frames": frames})) is told


def test_a_dark_frame_of_a_bracket_is_kept_for_its_blend(tmp_path: Path) -> None:
    frames = [frame("c.dng", 0.0, 0.6) if f["id"] == "c.dng" else f for f in AUDIT["frames"]]
    blend = [{"frame": "c.dng", "job": "the sun"}]
    audit = {**AUDIT, "frames": frames, "brackets": [{**AUDIT["brackets"][0], "blend": blend}]}
    marks = marks_from_audit(written(tmp_path / "audit.json", audit)).marks
    assert [(m.mark, m.reasons) for m in marks if m.file == "c.dng"] == [
        ("keep", "for the blend: the sun")
    ]


@pytest.mark.parametrize("code", ["damaged-data", "dark-frame"])
def test_a_damaged_or_dark_frame_is_never_suggested(tmp_path: Path, code: str) -> None:
    assert code in KINDS
    frames = [frame(f"{letter}.dng", findings=[{"code": code}]) for letter in "abcdef"]
    assert choice(tmp_path, {**AUDIT, "frames": frames}) == {}


def test_the_choice_holds_for_the_copy_on_another_card(tmp_path: Path) -> None:
    copy = {**frame("2:a.dng", also_at=["a.dng"]), "file": "other/a.dng", "input": 1}
    audit = {**AUDIT, "frames": [*AUDIT["frames"], copy]}
    assert choice(tmp_path, audit)["other/a.dng"] == "keep"


def test_an_audit_without_ids_is_keyed_by_file(tmp_path: Path) -> None:
    frames = [{k: v for k, v in f.items() if k != "id"} for f in AUDIT["frames"]]
    assert len(choice(tmp_path, {**AUDIT, "frames": frames})) == 4


@pytest.mark.parametrize("table", [{}, {"frames": []}, {"schema_version": "1.0", "frames": [3]}])
def test_what_is_no_audit_is_refused(tmp_path: Path, table: Any) -> None:
    with pytest.raises(WrongCall):
        marks_from_audit(written(tmp_path / "audit.json", table))
