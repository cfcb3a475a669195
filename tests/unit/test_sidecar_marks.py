"""Marks come from the report's file or from the audit's own verdict, and nothing else."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from auditor.model.errors import WrongCall
from auditor.sidecar.from_audit import marks_from_audit
from auditor.sidecar.marks import MARKS_SCHEMA, Mark, read_marks


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
        ({"schema": MARKS_SCHEMA, "marks": [{"file": "a", "mark": "best"}]}, "keeper, spare, drop"),
        ({"schema": MARKS_SCHEMA, "marks": [{"file": "a", "mark": ["drop"]}]}, "keeper, spare"),
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


AUDIT: dict[str, Any] = {
    "schema_version": "1.0",
    "made_at": "2031-09-14T22:00:00Z",
    "frames": [
        {"id": name, "file": name, "input": 0, "verdict": "held"}
        for name in ("a.dng", "b.dng", "c.dng", "d.dng", "e.dng", "f.dng")
    ],
    "keepers": [
        {"setup": "1", "frame": "a.dng", "why": ["sharpest", "nothing blown"],
         "rank": ["a.dng", "b.dng"]},
    ],
    "brackets": [{"setup": "2", "needed": ["c.dng", "b.dng"], "spare": ["d.dng", "c.dng"]}],
}  # fmt: skip


def test_the_audits_verdict_becomes_marks_and_never_a_drop(tmp_path: Path) -> None:
    marks = marks_from_audit(written(tmp_path / "audit.json", AUDIT))
    assert {mark.file: mark.mark for mark in marks.marks} == {
        "a.dng": "keeper",
        "b.dng": "keeper",
        "c.dng": "keeper",
        "d.dng": "spare",
    }
    assert marks.by_audit
    assert marks.marks[0].note == "sharpest; nothing blown"
    assert marks.audit_made_at == AUDIT["made_at"]


def test_an_audit_without_ids_is_keyed_by_file(tmp_path: Path) -> None:
    frames = [{"file": frame["file"]} for frame in AUDIT["frames"]]
    marks = marks_from_audit(written(tmp_path / "audit.json", {**AUDIT, "frames": frames}))
    assert len(marks.marks) == 4


@pytest.mark.parametrize("table", [{}, {"frames": []}, {"schema_version": "1.0", "frames": [3]}])
def test_what_is_no_audit_is_refused(tmp_path: Path, table: Any) -> None:
    with pytest.raises(WrongCall):
        marks_from_audit(written(tmp_path / "audit.json", table))
