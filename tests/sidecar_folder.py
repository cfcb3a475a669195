"""A folder of invented frames and marks on them, for the sidecar tests."""

from __future__ import annotations

from pathlib import Path

from auditor.sidecar.marks import Mark, Marks
from auditor.sidecar.undo import FOLDER

RAW = b"II*\x00 not a picture, and never to be touched"


def folder_with(tmp_path: Path, *files: str) -> Path:
    folder = tmp_path / "shoot"
    folder.mkdir(exist_ok=True)
    for file in files:
        path = folder / file
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(RAW)
    return folder


def marks_on(*entries: tuple[str, str | None] | tuple[str, str | None, str]) -> Marks:
    return Marks(tuple(Mark(e[0], e[0], 0, e[1], e[2] if len(e) > 2 else "") for e in entries))


def contents(folder: Path) -> dict[str, bytes]:
    """Return every file but the backups for undoing."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file() and path.parent.name != FOLDER
    }
