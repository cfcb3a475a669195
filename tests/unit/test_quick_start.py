"""What needs no picture answers at once: nothing heavy is loaded for it."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

ARRAYS = {"numpy", "scipy", "sqlite3"}
DRAWING = {"matplotlib", "PIL", "jinja2"}
OTHERS = {"rawpy", "lxml", "ephem", "distributed", "pebble"}
PROGRAM = (
    "import sys\n"
    "from auditor.cli import main\n"
    "try:\n    main()\n"
    "except SystemExit as end:\n    print('STATUS', end.code)\n"
    "print('LOADED', *sorted(set(sys.modules)))\n"
)


def loaded_by(*words: str) -> set[str]:
    shown = subprocess.run(
        [sys.executable, "-c", PROGRAM, *words],
        capture_output=True, text=True, timeout=60, check=True,
    )  # fmt: skip
    status, modules = shown.stdout.rstrip("\n").split("\n")[-2:]
    assert status == "STATUS 0"
    return set(modules.split()[1:])


@pytest.mark.parametrize(
    "words",
    [
        ("--help",),
        ("audit", "--help"),
        ("history", "--help"),
        ("explain",),
        ("explain", "blown-area"),
        ("nd-time", "1/30", "--stops", "10", "--drift", "-0.2"),
    ],
    ids=" ".join,
)
def test_it_loads_no_arrays_and_opens_no_store(words: tuple[str, ...]) -> None:
    assert (ARRAYS | DRAWING | OTHERS) & loaded_by(*words) == set()


def test_the_store_is_asked_without_loading_what_draws(tmp_path: Path) -> None:
    words = ("nd-time", "1/30", "--stops", "3", "--card", str(tmp_path / "card.png"))
    assert DRAWING & loaded_by(*words), "drawing is seen when it is there"
    store = ("history", "--verify", "--store", str(tmp_path / "store.sqlite"))
    assert DRAWING & loaded_by(*store) == set()
