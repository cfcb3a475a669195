"""A whole store written into one file of its own, over nothing but an older export of it."""

from __future__ import annotations

import os
import sqlite3
import tempfile
from pathlib import Path
from typing import Any

from auditor.history.phrases import counted
from auditor.model.errors import CannotWrite, StoreRefused
from auditor.store.archive import WANTED_BY, is_wanted
from auditor.store.connection import READING_ERRORS, Damaged, has_log, meaning_of
from auditor.store.reading import current, may_be_written


def export_store(connection: sqlite3.Connection, own: Path, path: Path) -> None:
    """Write the whole store into one file of its own; an older export is replaced in one step.

    Parameters
    ----------
    own : Path
        Where the store itself lies.

    Raises
    ------
    CannotWrite
        The folder cannot be written, or the file there is the store itself, no store at all, or
        a store that holds something this one lacks.
    sqlite3.DatabaseError
        The store is damaged.
    """
    _check_may_replace(connection, own, path)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(prefix=".export-", dir=path.parent) as folder:
            whole = Path(folder) / "store.sqlite"
            connection.execute("VACUUM INTO ?", (str(whole),))
            _flush(whole)
            whole.replace(path)
    except (OSError, sqlite3.Error, UnicodeEncodeError) as error:
        if isinstance(error, sqlite3.Error) and isinstance(meaning_of(error, path), Damaged):
            raise
        reason = getattr(error, "strerror", None) or str(error)
        raise CannotWrite(
            f"{path}: cannot be written ({reason}). Choose a folder that can be written and has "
            "room."
        ) from error


def _flush(path: Path) -> None:
    with path.open("rb") as stream:
        os.fsync(stream.fileno())


def _check_may_replace(connection: sqlite3.Connection, own: Path, path: Path) -> None:
    if not os.path.exists(path):  # noqa: PTH110 - unlike Path.exists it takes any name
        return
    if path.samefile(own):
        raise CannotWrite(f"{path}: is the store itself. Choose another name for the export.")
    if path.is_file() and path.stat().st_size == 0:
        return
    if path.is_file() and not may_be_written(path):
        raise _is_there(path, "may not be written")
    if has_log(path):
        # what lies in a journal would be read into the new file
        raise _is_there(path, "is in use as a store")
    lost = _lacked(connection, *_keys_in(path))
    if lost:
        raise CannotWrite(
            f"{path}: is a store that holds {lost} not in the one exported. Choose another name "
            "for the export, or take them in first, with --import."
        )


def _is_there(path: Path, why: str) -> CannotWrite:
    return CannotWrite(f"{path}: is there already and {why}. Choose another name for the export.")


Rows = list[tuple[Any, ...]]


def _keys_in(path: Path) -> tuple[Rows, Rows]:
    """Return what tells the measurements and the frames of shoots in a store that is there."""
    try:
        with current(path) as there:
            frames = there.execute(f"SELECT {WANTED_BY} FROM measurement").fetchall()
            shoots = there.execute("SELECT frame_key, shoot_id FROM shoot_frame").fetchall()
            return frames, shoots
    except (StoreRefused, Damaged, *READING_ERRORS) as error:
        raise _is_there(path, "is not a store, or not one that can be read") from error


def _lacked(connection: sqlite3.Connection, frames: Rows, shoots: Rows) -> str:
    """Say what another store holds and this one does not; empty when it holds nothing more."""
    one = "SELECT 1 FROM shoot_frame WHERE frame_key = ? LIMIT 1"
    more = sum(is_wanted(connection, row) for row in frames)
    gone = {shoot for key, shoot in shoots if not connection.execute(one, (key,)).fetchone()}
    counts = ((more, "measurement"), (len(gone), "shoot"))
    return " and ".join(counted(number, noun) for number, noun in counts if number)
