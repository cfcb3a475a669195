"""A file that a user names is read whole, or refused: never waited for, never without end."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import pytest

from auditor.model.errors import AuditorError
from auditor.model.plain_file import read_plain
from auditor.model.settings import load_settings
from auditor.sidecar.from_audit import marks_from_audit
from auditor.sidecar.marks import read_marks

READERS = [load_settings, read_marks, marks_from_audit]


def test_a_file_is_read_up_to_its_limit(tmp_path: Path) -> None:
    (tmp_path / "file").write_bytes(b"12345")
    assert read_plain(tmp_path / "file", 5) == b"12345"
    with pytest.raises(OSError, match="too large"):
        read_plain(tmp_path / "file", 4)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes with a name here")
@pytest.mark.parametrize("read", READERS)
def test_no_reader_waits_for_a_pipe(read: Callable[[Path], object], tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(AuditorError, match="device or pipe"):
        read(tmp_path / "pipe")


@pytest.mark.skipif(not Path("/dev/zero").exists(), reason="no endless device here")
@pytest.mark.parametrize("read", READERS)
def test_no_reader_takes_in_a_device_without_end(read: Callable[[Path], object]) -> None:
    with pytest.raises(AuditorError, match="device or pipe"):
        read(Path("/dev/zero"))


@pytest.mark.parametrize("read", READERS)
def test_a_folder_is_told_as_one(read: Callable[[Path], object], tmp_path: Path) -> None:
    with pytest.raises(AuditorError, match="it is a folder"):
        read(tmp_path)


def test_settings_nested_without_end_are_refused(tmp_path: Path) -> None:
    (tmp_path / "mine.toml").write_text("a = " + "[" * 100_000)
    with pytest.raises(AuditorError, match="is not TOML"):
        load_settings(tmp_path / "mine.toml")
