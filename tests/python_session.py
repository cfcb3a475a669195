"""Run the session of the page on Python from a reader's state, and keep what it printed.

``python -m tests.python_session`` writes the page anew.
"""

from __future__ import annotations

import contextlib
import io
import re
import tempfile
from pathlib import Path
from typing import Any

import pytest

from tests.docs_text import DOCS
from tests.docs_world import World, empty_world
from tests.evening_audit import audited_evening

PAGE = DOCS / "python.md"
_STEP = re.compile(r"```python\n(.*?)```\n\n```text\n(.*?)```", re.DOTALL)


def run(world: World) -> str:
    """Return the page with what its blocks print, one after the other, in a world."""
    names: dict[str, Any] = {"__name__": "notebook"}

    def answered(step: re.Match[str]) -> str:
        shown = io.StringIO()
        with contextlib.redirect_stdout(shown):
            exec(compile(world.inside(step[1]), PAGE.name, "exec"), names)
        return f"```python\n{step[1]}```\n\n```text\n{shown.getvalue()}```"

    with pytest.MonkeyPatch.context() as monkeypatch:
        world.enter(monkeypatch)
        return _STEP.sub(answered, PAGE.read_text(encoding="utf-8"))


def main() -> None:
    """Make the evening, run the session on its frames, and write the page."""
    with tempfile.TemporaryDirectory() as folder:
        evening = audited_evening(Path(folder))
        (Path(folder) / "world").mkdir()
        PAGE.write_text(run(empty_world(Path(folder) / "world", evening)), encoding="utf-8")


if __name__ == "__main__":
    main()
