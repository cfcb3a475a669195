"""What ``auditor apply`` prints, and the calls that it refuses."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from auditor.cli import app
from auditor.sidecar.marks import MARKS_SCHEMA
from tests import foreign_sidecars as foreign
from tests.sidecar_facts import read_sidecar
from tests.sidecar_folder import RAW, contents, folder_with


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    made = folder_with(tmp_path, "S1.dng", "S2.dng")
    (made / "S2.xmp").write_bytes(foreign.ELEMENTS)
    marks = [
        {"file": "S1.dng", "mark": "keep", "note": "ebb"},
        {"file": "S2.dng", "mark": "drop"},
        {"file": "S1.dng", "mark": "second", "input": 1},
    ]
    table = {"schema": MARKS_SCHEMA, "inputs": ["/media/card"], "marks": marks}
    (tmp_path / "marks.json").write_text(json.dumps(table))
    return made


def run(folder: Path, *arguments: str, marks: bool = True) -> Result:
    named = [str(folder.parent / "marks.json")] if marks else []
    return CliRunner().invoke(app, ["apply", *named, "--to", str(folder), *arguments])


WOULD = [
    "created: S1.dng (S1.xmp): rating 4, label Keep, description ebb",
    "updated: S2.dng (S2.xmp): rating -1: label second look is not ours and stays",
]
KEPT = "What somebody else set was kept; --replace overrules that."


def test_each_file_is_listed_with_what_would_be_written_and_then_is(folder: Path) -> None:
    before = contents(folder)
    done = run(folder, "--input", "1", "--dry-run")
    told = "Nothing was written; it would be: 1 created, 1 updated."
    assert done.output.splitlines() == [*WOULD, told, KEPT]
    assert contents(folder) == before
    done = run(folder, "--input", "1")
    assert done.output.splitlines() == [*WOULD, "1 created, 1 updated.", KEPT]
    assert done.exit_code == 0
    again = run(folder, "--input", "1", "--dry-run").output.splitlines()
    assert again[0] == "unchanged: S1.dng (S1.xmp)"


def test_the_second_card_is_number_two_as_in_its_ids(folder: Path) -> None:
    assert run(folder, "--input", "2").output.startswith("created: S1.dng (S1.xmp): rating 2")
    assert run(folder, "--input", "0").exit_code == 2


def test_labels_of_ones_own_settings_are_written_unless_the_call_names_others(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    own = tmp_path / "own.toml"
    own.write_text('labels = ["Blue", "Grey", "Black"]')
    monkeypatch.setenv("AUDITOR_SETTINGS", str(own))
    run(folder, "--input", "1", "--replace")
    assert read_sidecar(folder / "S1.xmp").label == "Blue"
    run(folder, "--input", "1", "--replace", "--labels", "Green,Yellow,Red")
    assert read_sidecar(folder / "S1.xmp").label == "Green"


def test_labels_replace_and_undo(folder: Path) -> None:
    before = contents(folder)
    run(folder, "--input", "1", "--labels", "Green, Yellow,Red", "--replace")
    assert (read_sidecar(folder / "S1.xmp").label, read_sidecar(folder / "S2.xmp").label) == (
        "Green", "Red",
    )  # fmt: skip
    done = run(folder, "--undo", marks=False)
    assert done.output.splitlines() == [
        "restored: S2.xmp", "removed: S1.xmp", "1 restored, 1 removed.",
    ]  # fmt: skip
    assert contents(folder) == before
    assert not (folder / ".auditor-undo").exists()


@pytest.mark.parametrize(
    ("arguments", "marks", "complaint"),
    [
        ((), False, "MARKS is missing"),
        (("--undo",), True, "takes no MARKS"),
        (("--undo", "--from-audit"), False, "do not go together"),
        (("--undo",), False, "no run of apply is left"),
        (("--labels", "a,b"), True, "Three different labels"),
        (("--naming", "both"), True, "stem or full"),
    ],
)
def test_a_call_that_cannot_be_carried_out_is_refused(
    folder: Path, arguments: tuple[str, ...], marks: bool, complaint: str
) -> None:
    done = run(folder, *arguments, marks=marks)
    assert complaint in str(done.exception)
    assert contents(folder) == {"S1.dng": RAW, "S2.dng": RAW, "S2.xmp": foreign.ELEMENTS}


def test_the_audits_own_choice_leaves_a_rated_frame_alone(folder: Path) -> None:
    shares = {"blown_fraction": 0.0, "blocked_fraction": 0.0}
    frames = [{"id": f"S{n}.dng", "file": f"S{n}.dng", **shares} for n in (1, 2)]
    keepers = [{"frame": f"S{n}.dng", "why": ["sharpest"], "rank": []} for n in (1, 2)]
    audit = {"schema_version": "2.0", "frames": frames, "keepers": keepers}
    (folder.parent / "marks.json").write_text(json.dumps(audit))
    rated = foreign.ELEMENTS.replace(b"<xmp:Rating>0<", b"<xmp:Rating>5<")
    (folder / "S2.xmp").write_bytes(rated)
    done = run(folder, "--from-audit")
    assert done.output.splitlines()[:2] == [
        "created: S1.dng (S1.xmp): rating 4, label Keep, reasons sharpest",
        "unchanged: S2.dng (S2.xmp): rating 5 is not ours and stays",
    ]
    assert (folder / "S2.xmp").read_bytes() == rated
