"""Pictures are drawn whatever the surroundings say of drawing, and nothing is told of it."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest


@pytest.mark.parametrize("suffix", [".png", ".pdf"])
@pytest.mark.parametrize(
    "surroundings",
    [
        {"MPLBACKEND": "module://somebodys_notebook.inline"},
        {"MPLBACKEND": "tkagg"},
        {"HOME": "/dev/null/nowhere", "MPLCONFIGDIR": "", "XDG_CACHE_HOME": "/dev/null/nowhere"},
    ],
    ids=["notebook", "screen", "no home"],
)
def test_a_card_is_drawn_in_silence(
    surroundings: dict[str, str], suffix: str, tmp_path: Path
) -> None:
    card = tmp_path / f"card{suffix}"
    done = subprocess.run(
        [sys.executable, "-m", "auditor", "nd-time", "4", "--stops", "6", "--card", str(card)],
        capture_output=True, text=True, timeout=60, check=False, env=os.environ | surroundings,
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (0, "")
    assert card.stat().st_size > 1000


def test_the_surroundings_are_as_before() -> None:
    code = (
        "import logging, os\n"
        "import auditor.report.history_png\n"
        "print(os.environ['MPLBACKEND'], logging.getLogger('matplotlib').level)"
    )
    told = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=True,
        env=os.environ | {"MPLBACKEND": "module://somebodys_notebook.inline"},
    )  # fmt: skip
    assert told.stdout.split() == ["module://somebodys_notebook.inline", "0"]


def test_there_is_one_door_to_the_drawing_library() -> None:
    package = Path(__file__).parents[2] / "auditor"
    direct = re.compile(r"^\s*(import|from) matplotlib", re.MULTILINE)
    doors = [p.name for p in package.rglob("*.py") if direct.search(p.read_text("utf-8"))]
    assert sorted(doors) == ["chart_style.py", "plots.py"], "the latter for axes of a notebook"
