"""A file is the old one or the new one, never a part."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from auditor.files.atomic import write_bytes
from auditor.model.errors import CannotWrite


def test_a_file_is_replaced_whole(tmp_path: Path) -> None:
    path = tmp_path / "deep" / "report.html"
    write_bytes(path, b"old")
    write_bytes(path, b"new")
    assert path.read_text() == "new"
    assert [p.name for p in path.parent.iterdir()] == ["report.html"]


def test_the_old_file_stands_when_the_new_one_cannot_be_finished(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "report.html"
    write_bytes(path, b"old")

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(CannotWrite, match="No space left"):
        write_bytes(path, b"new")
    assert path.read_text() == "old"
    assert len(list(tmp_path.iterdir())) == 1


def test_a_folder_that_cannot_be_made_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(CannotWrite, match="cannot be written"):
        write_bytes(tmp_path / "file" / "report.html", b"x")


def test_a_drive_that_keeps_no_permissions_takes_the_file_all_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refused(_path: Path, _mode: int) -> None:
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr(Path, "chmod", refused)
    write_bytes(tmp_path / "report.html", b"x")
    write_bytes(tmp_path / "report.html", b"y")
    assert (tmp_path / "report.html").read_text() == "y"


def test_permissions_follow_the_umask_and_then_the_old_file(tmp_path: Path) -> None:
    path = tmp_path / "report.html"
    old = os.umask(0o027)
    try:
        write_bytes(path, b"x")
    finally:
        os.umask(old)
    assert path.stat().st_mode & 0o777 == 0o640
    path.chmod(0o600)

    def look() -> Iterator[bytes]:
        yield b"y"
        (part,) = tmp_path.glob(".report.html-*.part")
        assert part.stat().st_mode & 0o077 == 0

    write_bytes(path, look())
    assert path.stat().st_mode & 0o777 == 0o600
