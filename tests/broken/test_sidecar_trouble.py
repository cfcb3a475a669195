"""Hostile marks, broken sidecars, kills in the middle: the old sidecar stands."""

from __future__ import annotations

import io
import json
import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from auditor.apply import apply_marks, undo_marks
from auditor.model.errors import WrongCall
from auditor.model.text import visible_name
from auditor.sidecar import apply as applying
from auditor.sidecar import merge as merging
from auditor.sidecar.marks import LONGEST_NOTE, MARKS_SCHEMA
from auditor.sidecar.packet import LARGEST_BYTES, RDF, BadPacket
from auditor.sidecar.undo import FOLDER
from tests import foreign_sidecars as foreign
from tests.built_hostile import POISON
from tests.sidecar_facts import read_rating
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
    report = apply_marks(marks_on(("100SELMR/a.dng", "keep")), folder)
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
        apply_marks(marks_on(("a.dng", "keep")), tmp_path)


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
        b'<?xml version="1.0" encoding="rot13"?><rdf:RDF xmlns:rdf="' + RDF.encode() + b'"/>',
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
    real = merging.merge

    def slow_merge(*arguments: object) -> object:
        (folder / "a.xmp").write_bytes(foreign.ATTRIBUTES)
        return real(*arguments)  # type: ignore[arg-type]

    monkeypatch.setattr(applying, "merge", slow_merge)
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
    assert list((folder / FOLDER).iterdir()) == []


KILLED = """
import os, signal, sys
from pathlib import Path
from auditor.apply import apply_marks
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


@pytest.mark.skipif(sys.platform == "win32", reason="needs SIGKILL")
def test_parts_left_by_a_kill_are_removed_by_the_next_run_and_no_others(tmp_path: Path) -> None:
    folder = folder_with(tmp_path, "a.dng", ".b.xmp-12345678.part", ".a.xmp-my-notes.part")
    root = Path(__file__).parents[2]
    subprocess.run([sys.executable, "-c", KILLED, str(folder)], cwd=root, check=False)
    assert len(list(folder.glob(".a.xmp-*.part"))) == 2
    apply_marks(marks_on(("a.dng", "keep")), folder)
    assert set(contents(folder)) == {
        "a.dng", "a.xmp", ".b.xmp-12345678.part", ".a.xmp-my-notes.part",
    }  # fmt: skip


@pytest.mark.skipif(sys.platform == "win32", reason="needs SIGKILL")
def test_a_killed_run_can_be_undone(tmp_path: Path) -> None:
    folder = folder_with(tmp_path, "a.dng")
    (folder / "a.xmp").write_bytes(foreign.LATIN)
    root = Path(__file__).parents[2]
    subprocess.run([sys.executable, "-c", KILLED, str(folder)], cwd=root, check=False)
    assert undo_marks(folder).count("unchanged") == 1
    assert (folder / "a.xmp").read_bytes() == foreign.LATIN


THREE = ("a.dng", "b.dng", "c.dng", "d.dng")


@pytest.mark.parametrize("when", ["before", "after"])
def test_stopped_half_way_it_is_told_what_was_written_and_what_not(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, when: str
) -> None:
    folder = folder_with(tmp_path, *THREE)
    real = Path.replace

    def replace(self: Path, target: Path) -> Path:
        if target.name == "b.xmp" and when == "before":
            raise KeyboardInterrupt
        done = real(self, target)
        if target.name == "b.xmp":
            raise KeyboardInterrupt
        return done

    monkeypatch.setattr(Path, "replace", replace)
    marks = marks_on(*((file, "keep") for file in THREE))
    report = apply_marks(marks, folder)
    monkeypatch.undo()
    told = {one.file: one.action for one in report.applied}
    second = {"before": "not written", "after": "created"}[when]
    assert told == {
        "a.dng": "created", "b.dng": second, "c.dng": "not written", "d.dng": "not written",
    }  # fmt: skip
    written = {name for name in contents(folder) if name.endswith(".xmp")}
    assert written == {f"{file[0]}.xmp" for file, action in told.items() if action == "created"}
    assert report.stopped
    assert not report.complete
    assert not list(folder.glob(".*.part"))
    assert apply_marks(marks, folder).count("created") == 4 - len(written)


STOPPED = """
import os, signal, sys
from pathlib import Path

real = Path.replace
def replace(self, target):
    done = real(self, target)
    if target.name == "b.xmp":
        os.kill(os.getpid(), signal.SIGINT)
    return done
Path.replace = replace

import typer
told = typer.echo
def echo(*texts, **options):
    os.kill(os.getpid(), signal.SIGINT)
    told(*texts, **options)
typer.echo = echo
from auditor.cli import main
sys.argv[0] = "auditor"
signal.signal(signal.SIGINT, signal.default_int_handler)
main()
"""


@pytest.mark.skipif(sys.platform == "win32", reason="needs signals")
def test_stopped_again_and_again_the_list_is_whole_and_the_status_130(tmp_path: Path) -> None:
    folder = folder_with(tmp_path, *THREE)
    table = {"schema": MARKS_SCHEMA, "marks": [{"file": f, "mark": "keep"} for f in THREE]}
    (tmp_path / "marks.json").write_text(json.dumps(table))
    done = subprocess.run(
        [sys.executable, "-c", STOPPED, "apply", str(tmp_path / "marks.json"), "--to", str(folder)],
        cwd=Path(__file__).parents[2], check=False, capture_output=True, text=True,
    )  # fmt: skip
    assert done.returncode == 130
    assert done.stdout.splitlines() == [
        "created: a.dng (a.xmp): rating 4, label Keep",
        "created: b.dng (b.xmp)",
        "not written: c.dng (c.xmp)",
        "not written: d.dng (d.xmp)",
        "Stopped: 2 created, 2 not written. The same command writes the rest.",
    ]
    assert done.stderr == ""


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes with a name here")
@pytest.mark.parametrize("name", ["a.dng", "a.xmp", "a.dng.xmp"])
def test_a_pipe_in_the_place_of_a_frame_or_a_sidecar_waits_for_nobody(
    tmp_path: Path, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = folder_with(tmp_path, "a.dng", "b.dng")
    (folder / name).unlink(missing_ok=True)
    os.mkfifo(folder / name)
    marks = marks_on(("a.dng", "keep"), ("b.dng", "keep"))
    assert [one.action for one in apply_marks(marks, folder).applied][1:] == ["created"]
    # and where it took its place only after it was looked at
    monkeypatch.setattr(Path, "is_file", lambda _path: True)
    first = apply_marks(marks, folder).applied[0]
    assert first.action == "refused"
    assert "pipe" in first.reason


def test_a_sidecars_size_is_looked_at_before_it_is_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = folder_with(tmp_path, "a.dng")
    with (folder / "a.xmp").open("wb") as stream:
        stream.truncate(LARGEST_BYTES + 1)

    monkeypatch.setattr(os, "fdopen", lambda descriptor, mode: NoRead(descriptor))
    report = apply_marks(marks_on(("a.dng", "keep")), folder)
    monkeypatch.undo()
    assert report.applied[0].action == "refused"
    assert "too large" in report.applied[0].reason
    assert (folder / "a.xmp").stat().st_size == LARGEST_BYTES + 1
    with pytest.raises(BadPacket, match="too large"):
        read_rating(folder / "a.xmp")


class NoRead(io.FileIO):
    """A stream of which nothing may be read."""

    def read(self, size: int | None = -1, /) -> bytes:
        raise AssertionError(f"{size} bytes were read")


@pytest.mark.parametrize(
    ("length", "action"), [(LONGEST_NOTE, "created"), (LONGEST_NOTE + 1, "refused")]
)
def test_a_note_too_long_is_refused_before_anything_is_written(
    tmp_path: Path, length: int, action: str
) -> None:
    folder = folder_with(tmp_path, "a.dng")
    report = apply_marks(marks_on(("a.dng", "keep", "x" * length)), folder)
    assert report.applied[0].action == action
    assert (folder / "a.xmp").exists() is (action == "created")
    if action == "refused":
        assert "2,001 characters" in report.applied[0].reason


def test_a_lock_on_a_sidecar_holds_for_whoever_may_do_everything(tmp_path: Path) -> None:
    folder = folder_with(tmp_path, "a.dng")
    (folder / "a.xmp").write_bytes(foreign.LATIN)
    (folder / "a.xmp").chmod(0o444)
    report = apply_marks(marks_on(("a.dng", "drop")), folder)
    assert report.applied[0].reason == "the sidecar is write-protected"
    assert (folder / "a.xmp").read_bytes() == foreign.LATIN


def test_the_other_name_of_a_hard_link_keeps_what_it_held(tmp_path: Path) -> None:
    folder = folder_with(tmp_path, "a.dng")
    snapshot = tmp_path / "snapshot.xmp"
    snapshot.write_bytes(foreign.LATIN)
    (folder / "a.xmp").hardlink_to(snapshot)
    assert apply_marks(marks_on(("a.dng", "drop")), folder).count("updated") == 1
    assert snapshot.read_bytes() == foreign.LATIN


@pytest.mark.parametrize("poison", POISON, ids=range(len(POISON)))
def test_hostile_names_and_notes_harm_nothing(tmp_path: Path, poison: str) -> None:
    folder = folder_with(tmp_path, "a.dng")
    (folder / "a.xmp").write_bytes(foreign.ATTRIBUTES)
    marks = marks_on((poison, "drop", poison), ("a.dng", "keep", poison[:LONGEST_NOTE]))
    report = apply_marks(marks, folder, replace=True)
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
    report = apply_marks(marks_on((f"{below}{visible_name(name)}.dng", "keep")), folder)
    assert report.applied[0].action == "created"
    assert report.applied[0].reason.isprintable()
    assert read_rating(folder / f"{name}.xmp") == 4


@pytest.mark.skipif(sys.platform != "linux", reason="needs file names that are bytes")
def test_an_odd_name_that_two_frames_share_is_not_guessed(tmp_path: Path) -> None:
    folder = folder_with(tmp_path, "k\udcfcste.dng")
    marks = marks_on(("100SELMR/k\\xfcste.dng", "keep"), ("101SELMR/k\\xfcste.dng", "drop"))
    assert apply_marks(marks, folder).count("missing") == 2


def test_an_empty_folder_collects_by_the_real_name(tmp_path: Path) -> None:
    folder = folder_with(tmp_path)
    apply_marks(marks_on(("back\\\\slash.dng", "keep")), folder)
    assert set(contents(folder)) == {"back\\slash.xmp"}
