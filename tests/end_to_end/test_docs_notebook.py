"""The notebook of the docs, run from an empty home, answers what is kept in it."""

from __future__ import annotations

import copy
import re
from pathlib import Path
from typing import Any

from tests import notebook_maker
from tests.evening_audit import Evening


def answers(notebook: Any) -> list[list[Any]]:
    """What each cell of code answered: texts as they are, of a picture that there is one."""
    return [
        [_answer(output) for output in cell.outputs]
        for cell in notebook.cells
        if cell.cell_type == "code"
    ]


def _answer(output: Any) -> Any:
    if output.output_type == "stream":
        return output.name, output.text
    return output.output_type, {k: v for k, v in output.data.items() if k != "image/png"}


def test_the_notebook_answers_what_is_kept_in_it(evening: Evening, tmp_path: Path) -> None:
    kept = notebook_maker.read()
    (tmp_path / "sample-shoot").symlink_to(evening.root)
    done = notebook_maker.run(copy.deepcopy(kept), tmp_path)
    assert answers(done) == answers(kept), "python -m tests.notebook_maker"
    pictures = [out for cell in kept.cells for out in cell.get("outputs", ()) if "data" in out]
    assert sum("image/png" in out.data for out in pictures) == 2
    assert (tmp_path / "memory.sqlite").is_file()


def test_the_notebook_knows_no_machine() -> None:
    text = notebook_maker.NOTEBOOK.read_text(encoding="utf-8")
    assert not re.search(r"/(home|root|tmp|work|Users|usr|mnt)/|stderr", text)
    assert len(text) < 150_000
