"""``make demo`` ends well only when the sample shoot was measured."""

from __future__ import annotations

import json
import shutil
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


def demo(tmp_path: Path, *, status: int, frames: list[str]) -> subprocess.CompletedProcess[str]:
    """Run it with a stand-in for the program, which ends with a status and such frames."""
    commands, shoot, out = (tmp_path / part for part in ("bin", "shoot", "out"))
    for folder in (commands, shoot / "card-1", out):
        folder.mkdir(parents=True)
    (shoot / "truth.json").write_text("{}")
    (out / "audit.json").write_text(
        json.dumps({"frames": [{"status": one} for one in frames]}, indent=1)
    )
    program = commands / "auditor"
    program.write_text(f"#!/bin/sh\nexit {status}\n")
    program.chmod(0o755)
    (tmp_path / ".ready-samples").touch()
    return subprocess.run(
        ["make", "demo", f"VENV={tmp_path}", f"SHOOT={shoot}", f"OUT={out}",
         "--assume-old", "pyproject.toml", "--assume-old", str(commands / "python")],
        cwd=ROOT, capture_output=True, text=True, timeout=120, check=False,
    )  # fmt: skip


needs_make = pytest.mark.skipif(shutil.which("make") is None, reason="no make here")


@needs_make
@pytest.mark.parametrize(("status", "frames"), [(0, ["measured"]), (1, ["unreadable", "measured"])])
def test_with_a_frame_measured_it_names_the_report(
    tmp_path: Path, status: int, frames: list[str]
) -> None:
    done = demo(tmp_path, status=status, frames=frames)
    assert done.returncode == 0, done.stderr
    assert "report.html\n" in done.stdout


@needs_make
@pytest.mark.parametrize(
    ("status", "frames", "told"),
    [
        (1, ["unreadable"], "no frame of the sample shoot could be measured"),
        (0, [], "no frame of the sample shoot could be measured"),
        (2, ["measured"], "the audit ended with status 2"),
        (130, ["measured"], "the audit ended with status 130"),
    ],
)
def test_without_one_it_fails_and_says_so(
    tmp_path: Path, status: int, frames: list[str], told: str
) -> None:
    done = demo(tmp_path, status=status, frames=frames)
    assert done.returncode != 0
    assert f"The demo failed: {told}" in done.stderr
    assert "Open the report" not in done.stdout
