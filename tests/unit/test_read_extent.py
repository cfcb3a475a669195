"""Boxes that end with the file, and boxes that end after it."""

from __future__ import annotations

from pathlib import Path

import pytest

from auditor.defects.sectors import cut_off
from auditor.read.failures import beyond_end, ends_early
from tests.built_containers import box
from tests.built_makers import MAKERS, PIXELS, containers


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


KINDS = {"cr2": "cr2", "dng": "dng", "iiq": "iiq", "orf": "orf", "rw2": "rw2"} | {
    suffix: suffix for suffix in ("cr3", "crw", "mrw", "raf", "x3f")
}


@pytest.mark.parametrize("suffix", sorted(containers()))
def test_every_container_tells_that_it_was_cut_off_and_that_it_is_whole(suffix: str) -> None:
    content, kind = containers()[suffix], KINDS.get(suffix, "tiff")
    kind = {"gpr": "dng", "ori": "orf", "rwl": "rw2"}.get(suffix, kind)
    assert not ends_early(content, kind)
    assert beyond_end(content, kind)[0] == 0
    assert ends_early(content[:-600], kind)
    if suffix in MAKERS or suffix in ("mrw", "raf", "cr3"):
        assert beyond_end(content[:-600], kind) == (600, len(PIXELS))


@pytest.mark.parametrize(("missing", "told"), [(0, False), (4, False), (6, True)])
def test_lengths_that_makers_round_up_are_no_damage(missing: int, *, told: bool) -> None:
    """Of 1000 bytes: half a percent."""
    assert bool(cut_off(missing, 1000)) == told
