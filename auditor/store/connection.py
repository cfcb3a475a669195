"""Opening the store's file, and what its errors mean to the user."""

from __future__ import annotations

import os
import sqlite3
import stat
import time
from pathlib import Path

from auditor.model.errors import AuditorError, CannotWrite, StoreRefused

APPLICATION_ID = 0x45_78_41_75
"""Written into the file's header, so that another program's database is never touched."""

WAIT_FOR_LOCK_S = 15.0
PAGE_BYTES = 16384
"""A frame's maps are a few hundred kilobytes: large pages are read in fewer steps."""

SQLITE_HEADER = b"SQLite format 3\x00"
_OWNER_AT = slice(68, 72)
"""Place of the application id in a database's header (sqlite.org/fileformat.html, 1.3)."""

NAME_ANOTHER = "Name another file with --store."
_DO_WITHOUT = "An audit can do without a store (--no-store)."

STORE_SUFFIXES = frozenset({".sqlite", ".sqlite3", ".db"})


_MEANS_DAMAGE = frozenset(
    {
        sqlite3.SQLITE_CORRUPT,
        sqlite3.SQLITE_NOTADB,
        sqlite3.SQLITE_FORMAT,
        sqlite3.SQLITE_CONSTRAINT,
        sqlite3.SQLITE_MISMATCH,
    }
)
"""The questions put are always the same: rows that break their own rules have been damaged."""


READING_ERRORS = (sqlite3.Error, UnicodeDecodeError)
"""What the database's own library raises; on a damaged file even its messages may be spoilt."""


class Damaged(Exception):
    """The file is, or was, a store, and cannot be read as one any more."""


def connect(path: Path, *, lasting: bool = True) -> sqlite3.Connection:
    """Open or make the store's file; migrations are still to be run.

    Parameters
    ----------
    lasting : bool
        False for a store that is thrown away: nothing waits for the medium then.

    Raises
    ------
    StoreRefused
        The file belongs to something else, is locked, or may not be written.
    Damaged
        The file cannot be read as a store.
    """
    owned = check_is_ours(path, f"{NAME_ANOTHER} {_DO_WITHOUT}")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        connection = sqlite3.connect(path, timeout=WAIT_FOR_LOCK_S, isolation_level=None)
    except (OSError, sqlite3.Error) as error:
        raise not_opened(path, error) from error
    connection.text_factory = lenient
    try:
        _set_up(connection, path, lasting=lasting)
    except READING_ERRORS as error:
        connection.close()
        meaning = meaning_of(error, path)
        if isinstance(meaning, Damaged) and not owned:
            raise another_program(path) from error
        raise meaning from error
    except BaseException:
        connection.close()
        raise
    return connection


def check_is_ours(path: Path, advice: str = NAME_ANOTHER) -> bool:
    """Never open, and above all never rename, what somebody else wrote; True when surely ours.

    Raises
    ------
    StoreRefused
        The file is something else, or cannot be read; ``advice`` says what to do.
    Damaged
        It has the name of a store, and not the header of one.
    """
    try:
        # a pipe would be waited for without end, and a device must never be renamed
        if not stat.S_ISREG(path.stat().st_mode):
            raise StoreRefused(f"{path}: is not a file. {advice}")
        with path.open("rb") as stream:
            head = stream.read(100)
    except FileNotFoundError:
        return False
    except OSError as error:
        raise _not_read(path, error, advice) from error
    if not head or head.startswith(SQLITE_HEADER):
        return int.from_bytes(head[_OWNER_AT], "big") == APPLICATION_ID
    if path.suffix.lower() in STORE_SUFFIXES:
        raise Damaged("its header is destroyed")
    raise StoreRefused(f"{path}: is not a store. {advice}")


def _set_up(connection: sqlite3.Connection, path: Path, *, lasting: bool) -> None:
    # In this order: another process may be making the tables, and signs them in one step.
    (tables,) = connection.execute("SELECT count(*) FROM sqlite_master").fetchone()
    (owner,) = connection.execute("PRAGMA application_id").fetchone()
    if tables and owner != APPLICATION_ID:
        raise another_program(path)
    if not tables:
        connection.execute(f"PRAGMA page_size = {PAGE_BYTES}")
    _use_wal(connection)
    connection.execute(f"PRAGMA synchronous = {'NORMAL' if lasting else 'OFF'}")
    connection.execute("PRAGMA foreign_keys = ON")
    connection.execute("PRAGMA trusted_schema = OFF")


def _use_wal(connection: sqlite3.Connection) -> None:
    """Switch to a write-ahead log; this one step does not wait for locks of its own accord."""
    give_up = time.monotonic() + WAIT_FOR_LOCK_S
    while True:
        try:
            connection.execute("PRAGMA journal_mode = WAL")
            return
        except sqlite3.OperationalError as error:
            busy = error.sqlite_errorcode & 0xFF == sqlite3.SQLITE_BUSY
            if not busy or time.monotonic() > give_up:
                raise
            time.sleep(0.01)


def lenient(text: bytes) -> str:
    """Let damaged text through: checksums find it, row by row."""
    return text.decode("utf-8", errors="replace")


def meaning_of(
    error: Exception, path: Path, *, reading: str | None = None
) -> AuditorError | Damaged:
    """Say what an error of the database means, and what to do.

    Parameters
    ----------
    reading : str, optional
        Of a store that was opened only to be read: what to do, as a sentence.
    """
    code = (getattr(error, "sqlite_errorcode", None) or 0) & 0xFF
    spoilt = isinstance(error, UnicodeDecodeError) or str(error).startswith("no such ")
    if spoilt or code in _MEANS_DAMAGE:
        return Damaged(str(error))
    if code == sqlite3.SQLITE_FULL:
        return CannotWrite(
            f"{path}: the disk is full. Make room; what is kept so far is safe. {_DO_WITHOUT}"
        )
    if code in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
        return StoreRefused(
            f"{path}: another audit is writing to the store. Wait for it to end, or name another "
            "file with --store."
        )
    return not_opened(path, error) if reading is None else _not_read(path, error, reading)


def another_program(path: Path, advice: str = NAME_ANOTHER) -> StoreRefused:
    """Say that a database is somebody else's."""
    return StoreRefused(f"{path}: is another program's database. {advice}")


def not_opened(path: Path, error: Exception) -> StoreRefused:
    """Say that the file cannot be opened for writing, and why."""
    return StoreRefused(
        f"{path}: the store cannot be opened for writing ({_reason(error)}). {NAME_ANOTHER} "
        f"{_DO_WITHOUT}"
    )


def _not_read(path: Path, error: Exception, advice: str) -> StoreRefused:
    if has_log(path):
        advice = (
            f"What was written last lies in {path.name}-wal: copy both to a folder that can be "
            "written, and name the copy."
        )
    return StoreRefused(f"{path}: cannot be read ({_reason(error)}). {advice}")


def has_log(path: Path) -> bool:
    """Tell whether some of a store still lies in its write-ahead log."""
    log = f"{os.path.realpath(path)}-wal"
    return os.path.exists(log) and os.path.getsize(log) > 0  # noqa: PTH110, PTH202 - any name


def _reason(error: Exception) -> str:
    return getattr(error, "strerror", None) or str(error)
