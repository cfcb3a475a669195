"""Stores that are only read: the sources of imports, and those where nothing can be written."""

from __future__ import annotations

import contextlib
import os
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

from auditor.model.errors import StoreRefused
from auditor.store.connection import (
    APPLICATION_ID,
    NAME_ANOTHER,
    READING_ERRORS,
    WAIT_FOR_LOCK_S,
    another_program,
    check_is_ours,
    connect,
    has_log,
    lenient,
    meaning_of,
)
from auditor.store.migrations import STEPS, check_not_newer, migrate, version_of


def may_be_written(path: Path) -> bool:
    """Tell whether a store that is there can be written: its folder too, for journals lie there."""
    real = Path(os.path.realpath(path))
    return os.access(real, os.W_OK) and os.access(real.parent, os.W_OK)


def check_not_empty(path: Path) -> None:
    """Refuse a file without a byte, which opens as a whole store that remembers nothing.

    Raises
    ------
    StoreRefused
        The file is empty.
    """
    if os.path.isfile(path) and os.path.getsize(path) == 0:  # noqa: PTH113, PTH202 - any name
        raise _empty(path, NAME_ANOTHER)


def open_for_reading(path: Path) -> closing[sqlite3.Connection]:
    """Open a store's file without ever writing to it; closes at the end of the with block.

    Raises
    ------
    sqlite3.Error
        It cannot be opened.
    """
    manner = _manner(path)
    address = f"{path.absolute().as_uri()}?mode={manner}"
    connection = sqlite3.connect(address, uri=True, timeout=WAIT_FOR_LOCK_S, isolation_level=None)
    connection.text_factory = lenient
    if manner == "rw":
        connection.execute("PRAGMA query_only = ON")
    connection.execute("PRAGMA trusted_schema = OFF")
    return closing(connection)


def _manner(path: Path) -> str:
    """Choose how to open, so that nothing is changed and no journal is left lying.

    A reader of a write-ahead log needs files beside the store (sqlite.org/wal.html, "Read-Only
    Databases"). Only one that might write takes them away again at its end; where nothing can be
    written and no log is waiting, the file is read as it lies.
    """
    if has_log(path):
        return "ro"
    return "rw" if may_be_written(path) else "ro&immutable=1"


@contextlib.contextmanager
def current(path: Path, advice: str = NAME_ANOTHER) -> Iterator[sqlite3.Connection]:
    """Open another store for reading; an older one is brought up to date in a copy of it.

    Parameters
    ----------
    advice : str
        What to do when it cannot be read, as a sentence.

    Raises
    ------
    StoreRefused
        It is newer than this program, empty, no store at all, or cannot be opened.
    Damaged
        It cannot be read as a store.
    """
    with tempfile.TemporaryDirectory(prefix="exposure-auditor-") as folder:
        copy = Path(folder) / "store.sqlite"
        # what goes wrong while rows are taken is the taker's to tell, so nothing is caught there
        with closing(opened(path, advice)) as source:
            if version_of(source) == len(STEPS):
                yield source
                return
            _back_up(source, copy, path)
        with closing(connect(copy, lasting=False)) as older:
            _bring_up_to_date(older, path)
            yield older


def opened(path: Path, advice: str = NAME_ANOTHER) -> sqlite3.Connection:
    """Open a store for reading and see that it is one, as :func:`current` says."""
    check_is_ours(path, advice)
    try:
        with contextlib.ExitStack() as on_error:
            source = on_error.enter_context(open_for_reading(path))
            _check_signed(source, path, advice)
            check_not_newer(source, path)
            on_error.pop_all()
            return source
    except READING_ERRORS as error:
        raise meaning_of(error, path, reading=advice) from error


def _check_signed(source: sqlite3.Connection, path: Path, advice: str) -> None:
    (tables,) = source.execute("SELECT count(*) FROM sqlite_master").fetchone()
    (owner,) = source.execute("PRAGMA application_id").fetchone()
    if not tables:
        raise _empty(path, advice)
    if owner != APPLICATION_ID:
        raise another_program(path, advice)


def _empty(path: Path, advice: str) -> StoreRefused:
    return StoreRefused(f"{path}: is empty: a store never is, nor an export. {advice}")


def _back_up(source: sqlite3.Connection, copy: Path, path: Path) -> None:
    try:
        with closing(sqlite3.connect(copy)) as target:
            source.backup(target)
    except READING_ERRORS as error:
        raise meaning_of(error, path) from error


def _bring_up_to_date(older: sqlite3.Connection, path: Path) -> None:
    try:
        migrate(older, path)
    except READING_ERRORS as error:
        raise meaning_of(error, path) from error
