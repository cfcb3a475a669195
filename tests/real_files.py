"""Real raw files for tests: two are kept here, others may lie in a folder beside the project."""

from __future__ import annotations

from pathlib import Path

import pytest

HERE = Path(__file__).parent / "data" / "raw"
BESIDE = Path(__file__).parents[2] / "shared" / "data" / "raw"


def real_file(name: str) -> Path:
    """Return a real file, or skip the test where it is not at hand."""
    for folder in (HERE, BESIDE):
        if (folder / name).exists():
            return folder / name
    pytest.skip(f"{name} is not at hand (looked for in {BESIDE})")
