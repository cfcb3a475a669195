"""Hostile marks, broken sidecars, kills in the middle: the old sidecar stands."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from auditor.model.errors import WrongCall
from auditor.model.text import visible_name
from auditor.sidecar import apply as applying
from auditor.sidecar.apply import apply_marks
from auditor.sidecar.packet import RDF
from auditor.sidecar.read import read_rating
from tests import foreign_sidecars as foreign
from tests.built_hostile import POISON
from tests.sidecar_folder import RAW, contents, folder_with, marks_on

ESCAPES = [
    "../outside.dng", "a/../../outside.dng", "/etc/outside.dng", "./a.dng", "a//b.dng", "", "..",
    "C:\\outside.dng", "C:outside.dng", "\\\\host\\share\\a.dng", "a.dng/", "a\0b.dng", "a.dng\0",
    "\\u002e\\u002e/outside.dng", "..\\u002foutside.dng", "a\\u0000b.dng", "\\Uffffffff.dng",
    "link/outside.dng", "a.xmp", "a.XMP", "a.xmp.bak",
]  # fmt: skip


@pytest.mark.parametrize("file", ESCAPES)
def test_no_path_leads_out_of_the_folder(tmp_path: Path, file: str) -> None:
    folder = folder_with(tmp_path, "a.dng")
    outside = tmp_path / "elsewhere"
    outside.mkdir()
    for path in (tmp_path / "outside.dng", outside / "outside.dng"):
        path.write_bytes(RAW)
    (folder / "link").symlink_to(outside)
    (folder / "a.xmp").write_bytes(foreign.NESTED)
    before = contents(tmp_path)
    report = apply_marks(marks_on((file, "drop")), folder)
    assert contents(tmp_path) == before
    assert report.applied[0].action in ("refused", "missing")
    assert report.applied[0].reason


def test_a_sidecar_that_is_a_link_is_left_alone(tmp_path: Path) -> None:
    folder = folder_with(tmp_path, "a.dng")
    victim = tmp_path / "letter.xml"
    victim.write_bytes(foreign.ATTRIBUTES)
    (folder / "a.xmp").symlink_to(victim)
    report = apply_marks(marks_on(("a.dng", "drop")), folder)
    assert report.applied[0].reason == "the sidecar is a link to another file"
    assert victim.read_bytes() == foreign.ATTRIBUTES
    assert (folder / "a.xmp").is_symlink()


def test_a_folder_that_cannot_be_listed_collects_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = folder_with(tmp_path)

    def refused(_path: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(os, "scandir", refused)
    report = apply_marks(marks_on(("100SELMR/a.dng", "keeper")), folder)
    monkeypatch.undo()
    assert report.applied[0].action == "missing"
    assert contents(folder) == {}


def test_a_folder_that_fails_is_a_wrong_call(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fails(_path: Path) -> bool:
        raise OSError(5, "Input/output error")

    monkeypatch.setattr(Path, "is_dir", fails)
    with pytest.raises(WrongCall, match="Input/output error"):
        apply_marks(marks_on(("a.dng", "keeper")), tmp_path)


def test_a_folder_in_the_sidecars_place_is_left_alone(tmp_path: Path) -> None:
    folder = folder_with(tmp_path, "a.dng", "a.xmp/inside.txt")
    report = apply_marks(marks_on(("a.dng", "drop")), folder)
    assert report.applied[0].action == "refused"
    assert "no file" in report.applied[0].reason


def test_a_write_protected_sidecar_is_left_alone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = folder_with(tmp_path, "a.dng")
    (folder / "a.xmp").write_bytes(foreign.NESTED)
    monkeypatch.setattr(os, "access", lambda path, mode: False)
    report = apply_marks(marks_on(("a.dng", "drop")), folder)
    assert report.applied[0].reason == "the sidecar is write-protected"
    assert (folder / "a.xmp").read_bytes() == foreign.NESTED


@pytest.mark.parametrize(
    "content",
    [
        b"", b"<broken", foreign.ELEMENTS[:-30], b"<!DOCTYPE a><a/>", b"\x00" * 9,
        # an encoding that only one of the two parsers knows
        b'<?xml version="1.0" encoding="GB2312"?><rdf:RDF xmlns:rdf="' + RDF.encode() + b'"/>',
    ],
)  # fmt: skip
def test_a_broken_sidecar_is_left_alone_and_the_others_are_written(
    tmp_path: Path, content: bytes
) -> None:
    folder = folder_with(tmp_path, "a.dng", "b.dng")
    (folder / "a.xmp").write_bytes(content)
    report = apply_marks(marks_on(("a.dng", "drop"), ("b.dng", "drop")), folder)
    assert [one.action for one in report.applied] == ["refused", "created"]
    assert report.applied[0].reason.startswith("it was left alone: ")
    assert (folder / "a.xmp").read_bytes() == content
    assert not (folder / "a.xmp.bak").exists()


@pytest.mark.parametrize("there", [foreign.NESTED, None])
def test_a_sidecar_changed_meanwhile_is_left_to_the_other(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, there: bytes | None
) -> None:
    folder = folder_with(tmp_path, "a.dng")
    if there is not None:
        (folder / "a.xmp").write_bytes(there)
    merge = applying._merge

    def slow_merge(*arguments: object) -> tuple[str, ...]:
        (folder / "a.xmp").write_bytes(foreign.ATTRIBUTES)
        return merge(*arguments)  # type: ignore[arg-type]

    monkeypatch.setattr(applying, "_merge", slow_merge)
    report = apply_marks(marks_on(("a.dng", "drop")), folder)
    assert report.applied[0].action == "refused"
    assert "meanwhile" in report.applied[0].reason
    assert (folder / "a.xmp").read_bytes() == foreign.ATTRIBUTES
    assert not list(folder.glob(".*.part"))


def test_a_replace_that_fails_leaves_the_old_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = folder_with(tmp_path, "a.dng", "b.dng")
    (folder / "a.xmp").write_bytes(foreign.NESTED)

    def fails(self: Path, _target: Path) -> Path:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "replace", fails)
    report = apply_marks(marks_on(("a.dng", "drop"), ("b.dng", "drop")), folder)
    assert [one.action for one in report.applied] == ["refused", "refused"]
    assert "No space left" in report.applied[0].reason
    assert contents(folder) == {"a.dng": RAW, "b.dng": RAW, "a.xmp": foreign.NESTED}


KILLED = """
import os, signal, sys
from pathlib import Path
from auditor.sidecar.apply import apply_marks
from tests.sidecar_folder import marks_on

real = Path.replace
def replace(self, target):
    if str(target).endswith(".xmp"):
        os.kill(os.getpid(), signal.SIGKILL)
    return real(self, target)
Path.replace = replace
apply_marks(marks_on(("a.dng", "drop", "gone")), Path(sys.argv[1]))
"""


@pytest.mark.skipif(sys.platform == "win32", reason="needs SIGKILL")
def test_killed_in_the_middle_the_old_one_stands(tmp_path: Path) -> None:
    folder = folder_with(tmp_path, "a.dng")
    (folder / "a.xmp").write_bytes(foreign.ELEMENTS)
    root = Path(__file__).parents[2]
    done = subprocess.run([sys.executable, "-c", KILLED, str(folder)], cwd=root, check=False)
    assert done.returncode == -signal.SIGKILL
    assert (folder / "a.xmp").read_bytes() == foreign.ELEMENTS
    assert (folder / "a.dng").read_bytes() == RAW
    apply_marks(marks_on(("a.dng", "drop")), folder)
    assert read_rating(folder / "a.xmp") == -1


@pytest.mark.parametrize("poison", POISON, ids=range(len(POISON)))
def test_hostile_names_and_notes_harm_nothing(tmp_path: Path, poison: str) -> None:
    folder = folder_with(tmp_path, "a.dng")
    (folder / "a.xmp").write_bytes(foreign.ATTRIBUTES)
    marks = marks_on((poison, "drop", poison), ("a.dng", "keeper", poison))
    report = apply_marks(marks, folder)
    assert report.applied[1].action == "updated"
    assert foreign.foreign_parts((folder / "a.xmp").read_bytes()) == foreign.foreign_parts(
        foreign.ATTRIBUTES
    )
    told = " ".join(
        [*report.applied[0].changes, report.applied[0].reason, *report.applied[1].changes]
    )
    assert told.isprintable()


ODD_NAMES = ["k\udcfcste", "two\nlines", "right\u202eleft", "back\\slash", "soft\u00adhyphen"]


@pytest.mark.skipif(sys.platform != "linux", reason="needs file names that are bytes")
@pytest.mark.parametrize("name", ODD_NAMES, ids=visible_name)
@pytest.mark.parametrize("below", ["", "100SELMR/"], ids=["same", "flat"])
def test_an_odd_name_is_found_by_how_the_audit_writes_it(
    tmp_path: Path, name: str, below: str
) -> None:
    folder = folder_with(tmp_path, f"{name}.dng")
    report = apply_marks(marks_on((f"{below}{visible_name(name)}.dng", "keeper")), folder)
    assert report.applied[0].action == "created"
    assert report.applied[0].reason.isprintable()
    assert read_rating(folder / f"{name}.xmp") == 4


@pytest.mark.skipif(sys.platform != "linux", reason="needs file names that are bytes")
def test_an_odd_name_that_two_frames_share_is_not_guessed(tmp_path: Path) -> None:
    folder = folder_with(tmp_path, "k\udcfcste.dng")
    marks = marks_on(("100SELMR/k\\xfcste.dng", "keeper"), ("101SELMR/k\\xfcste.dng", "drop"))
    assert apply_marks(marks, folder).count("missing") == 2


def test_an_empty_folder_collects_by_the_real_name(tmp_path: Path) -> None:
    folder = folder_with(tmp_path)
    apply_marks(marks_on(("back\\\\slash.dng", "keeper")), folder)
    assert set(contents(folder)) == {"back\\slash.xmp"}
