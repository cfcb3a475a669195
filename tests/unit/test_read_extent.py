"""Boxes that end with the file, and boxes that end after it."""

from __future__ import annotations

from pathlib import Path

import pytest

from auditor.read.failures import ends_early
from tests.built_containers import box


@pytest.mark.parametrize(
    ("tail", "early"),
    [
        (b"", False),
        (box(b"free", b""), False),
        (box(b"free", b"1234"), False),
        (box(b"mdat", b"12345678" * 4)[:-1], True),
        (b"\0\0\0", True),
    ],
)
def test_a_last_box_however_short_is_whole(tmp_path: Path, tail: bytes, early: bool) -> None:
    path = tmp_path / "a.cr3"
    path.write_bytes(box(b"ftyp", b"crx \0\0\0\1crx isom") + tail)
    assert ends_early(path.read_bytes(), "cr3") is early
