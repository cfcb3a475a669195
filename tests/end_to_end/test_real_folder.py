"""Every real file at hand in one audit: what can be measured is, and what cannot is named."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from tests.real_files import BESIDE

NAMED = {"header-only.cr3", "opens-but-zeros.arw", "truncated.nef"}


@pytest.mark.skipif(not BESIDE.is_dir(), reason=f"no folder of real files at {BESIDE}")
def test_four_are_measured_and_three_are_named_with_reasons(
    tmp_path: Path,
) -> None:
    out = tmp_path / "out"
    call = ["audit", str(BESIDE), "--out", str(out), "--no-store", "--format", "json", "--quiet"]
    ended = subprocess.run(
        [sys.executable, "-m", "auditor", *call], capture_output=True, text=True, check=False
    )
    assert ended.returncode == 1, ended.stderr
    frames = json.loads((out / "audit.json").read_text("utf-8"))["frames"]
    lost = {frame["file"]: frame["error"] for frame in frames if frame["status"] == "unreadable"}
    assert sum(frame["status"] == "measured" for frame in frames) == 4
    assert set(lost) == NAMED
    assert all(error["code"] and error["message"] for error in lost.values())
    assert all(frame["camera"]["model"] and frame["captured_at"] for frame in frames)
    assert all(name in ended.stderr for name in NAMED)
