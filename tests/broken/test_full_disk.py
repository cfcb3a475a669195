"""A disk that is full, for real: a small file system in memory, where one can be made."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from tests.built_dng import write_dng

FILES = 6


@pytest.fixture(params=["8k", "64k", "200k"])
def small_disk(tmp_path: Path, request: pytest.FixtureRequest) -> Iterator[Path]:
    """A disk with room for nothing, for the tables, and for a frame or two."""
    place = tmp_path / "disk"
    place.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", f"size={request.param}", "tmpfs", str(place)]
    try:
        mounted = subprocess.run(mount, capture_output=True, check=False).returncode == 0
    except OSError:
        mounted = False
    if not mounted:
        pytest.skip("the system lets nobody mount here")
    yield place
    subprocess.run(["umount", str(place)], check=True)


@pytest.fixture
def card(tmp_path: Path) -> Path:
    folder = tmp_path / "card"
    folder.mkdir()
    for number in range(FILES):
        pixels = np.random.default_rng(number).normal(3000, 90, (300, 400)).astype(np.uint16)
        write_dng(folder / f"F45_{number:04d}.DNG", pixels)
    return folder


def audit(card: Path, *options: str, temporary: Path) -> subprocess.CompletedProcess[str]:
    out = card.parent / "out"
    return subprocess.run(
        [sys.executable, "-m", "auditor", "audit", str(card), "--out", str(out),
         "--format", "json", "--workers", "1", *options],
        env={**os.environ, "TMPDIR": str(temporary)},
        capture_output=True, text=True, check=False,
    )  # fmt: skip


def test_a_store_on_a_full_disk_is_done_without_and_said_so(card: Path, small_disk: Path) -> None:
    store = small_disk / "store.sqlite"
    ended = audit(card, "--store", str(store), temporary=card.parent)
    assert ended.returncode == 0, ended.stderr
    assert "the disk is full" in ended.stderr
    assert "without the store" in ended.stderr
    assert "Remembered" not in ended.stdout
    written = json.loads((card.parent / "out" / "audit.json").read_text(encoding="utf-8"))
    assert [frame["status"] for frame in written["frames"]] == ["measured"] * FILES


def test_without_a_store_a_full_disk_says_so_and_where_to_make_room(
    card: Path, small_disk: Path
) -> None:
    ended = audit(card, "--no-store", temporary=small_disk)
    assert ended.returncode == 2
    assert "TMPDIR" in ended.stderr
    assert "rollback" not in ended.stderr
    assert "Traceback" not in ended.stderr
