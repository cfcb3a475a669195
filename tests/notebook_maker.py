"""Run the notebook of the docs and keep what it answered: ``python -m tests.notebook_maker``."""

from __future__ import annotations

import os
import sys
import tempfile
from pathlib import Path
from typing import Any

import nbformat
from nbclient import NotebookClient

from tests.docs_text import DOCS

NOTEBOOK = DOCS / "notebook.ipynb"
OF_A_USER = ("JUPYTER", "IPYTHON", "XDG_", "MPL", "AUDITOR_", "PYTHON")
"""How settings begin that a reader may have and a fresh machine has not."""


def read(path: Path = NOTEBOOK) -> Any:
    """The notebook as it is kept."""
    return nbformat.read(path, as_version=4)  # type: ignore[no-untyped-call]


def run(notebook: Any, folder: Path) -> Any:
    """Run all cells in that folder, from a home that is empty; returns the notebook as answered."""
    home = folder / "home"
    home.mkdir()
    told = {key: value for key, value in os.environ.items() if not key.startswith(OF_A_USER)}
    for cell in notebook.cells:
        cell.pop("outputs", None)
        if cell.cell_type == "code":
            cell.outputs = []
    client = NotebookClient(
        notebook,
        timeout=600,
        record_timing=False,
        resources={"metadata": {"path": str(folder)}},
    )
    client.execute(env={**told, "HOME": str(home), "IPYTHONDIR": str(home / "ipython")})
    notebook.metadata.language_info = {"name": "python"}  # without the version that ran it
    return notebook


def main() -> None:
    """Run it from nothing, and write it with its outputs."""
    with tempfile.TemporaryDirectory() as folder:
        done = run(read(), Path(folder))
    nbformat.write(done, NOTEBOOK)  # type: ignore[no-untyped-call]
    print(f"{NOTEBOOK}: {NOTEBOOK.stat().st_size} bytes", file=sys.stderr)


if __name__ == "__main__":
    main()
