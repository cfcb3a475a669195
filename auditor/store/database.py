"""The store's database: its tables, how its file is opened, and what its errors mean."""

from __future__ import annotations

import contextlib
import os
import sqlite3
import time
import zlib
from collections.abc import Iterator
from datetime import UTC, datetime
from itertools import count
from pathlib import Path

import platformdirs

from auditor.model.errors import AuditorError, StoreFull, StoreRefused, StoreUnusable
from auditor.words import store as words

APPLICATION_ID = 0x45_78_41_75
"""Written into the file's header, so that another program's database is never touched."""

VERSION = 5
"""Of the tables. A store of another version is no store to work in: an older one is set aside
and what it shares with the tables of today is taken over, a newer one is left alone."""

TABLES = """
CREATE TABLE IF NOT EXISTS frame (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    content_key TEXT NOT NULL,
    settings_key TEXT NOT NULL,
    UNIQUE (content_key, settings_key));
CREATE TABLE IF NOT EXISTS content (
    place TEXT PRIMARY KEY,
    ends TEXT NOT NULL,
    digest TEXT NOT NULL,
    read_at TEXT NOT NULL,
    checksum INTEGER NOT NULL);
CREATE INDEX IF NOT EXISTS content_of_ends ON content (ends);
CREATE INDEX IF NOT EXISTS content_of_digest ON content (digest);
CREATE TABLE IF NOT EXISTS measure (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    frame_id INTEGER NOT NULL REFERENCES frame ON DELETE CASCADE,
    name TEXT NOT NULL,
    version INTEGER NOT NULL,
    checksum INTEGER NOT NULL,
    record BLOB NOT NULL,
    UNIQUE (frame_id, name));
CREATE TABLE IF NOT EXISTS pile_up (
    frame_id INTEGER NOT NULL REFERENCES frame ON DELETE CASCADE,
    make TEXT NOT NULL,
    model TEXT NOT NULL,
    serial TEXT NOT NULL,
    iso REAL NOT NULL,
    bit_depth INTEGER NOT NULL,
    plane TEXT NOT NULL,
    level_dn REAL NOT NULL,
    from_dn REAL NOT NULL,
    checksum INTEGER NOT NULL);
CREATE INDEX IF NOT EXISTS pile_up_of_frame ON pile_up (frame_id);
CREATE INDEX IF NOT EXISTS pile_up_of_body
    ON pile_up (make, model, serial, iso, bit_depth, plane);
CREATE TABLE IF NOT EXISTS shoot (
    id INTEGER PRIMARY KEY,
    saved_at TEXT NOT NULL,
    first_at TEXT NOT NULL,
    checksum INTEGER NOT NULL,
    audit BLOB NOT NULL);
CREATE TABLE IF NOT EXISTS shoot_frame (
    frame_key TEXT NOT NULL,
    shoot_id INTEGER NOT NULL REFERENCES shoot ON DELETE CASCADE,
    PRIMARY KEY (frame_key, shoot_id)) WITHOUT ROWID;
CREATE INDEX IF NOT EXISTS shoot_frame_of_shoot ON shoot_frame (shoot_id);
CREATE TABLE IF NOT EXISTS conclusion (
    conclusion_key TEXT PRIMARY KEY,
    saved_at TEXT NOT NULL,
    checksum INTEGER NOT NULL,
    audit BLOB NOT NULL);
"""

WAIT_FOR_LOCK_S = 15.0
PAGE_BYTES = 4096
"""Of each measure half a page is left empty: larger ones waste a fiftieth, and are no quicker."""

MOST_BYTES = 1 << 28
"""Longest text or record that is read or written, whatever a damaged file promises."""

JOURNALS = ("-wal", "-shm", "-journal")
"""What the database puts beside its file, and waits for where it is a pipe."""

STORE_SUFFIXES = frozenset({".sqlite", ".sqlite3", ".db"})
SQLITE_HEADER = b"SQLite format 3\x00"

_MEANS_DAMAGE = frozenset(
    {
        sqlite3.SQLITE_CORRUPT,
        sqlite3.SQLITE_NOTADB,
        sqlite3.SQLITE_FORMAT,
        sqlite3.SQLITE_CONSTRAINT,
        sqlite3.SQLITE_MISMATCH,
        sqlite3.SQLITE_TOOBIG,
    }
)
"""The questions put are always the same: rows that break their own rules have been damaged."""

_SAYS_DAMAGE = (
    *("no such ", "malformed", "no column", "has no column", "values for"),
    "unsupported file format",
)
"""What other errors say where the description of the tables itself is spoilt."""

READING_ERRORS = (sqlite3.Error, UnicodeDecodeError)
"""What the database's own library raises; on a damaged file even its messages may be spoilt."""


def default_path() -> Path:
    """Return where the store lies unless told otherwise: in the user's data folder."""
    return platformdirs.user_data_path("exposure-auditor", appauthor=False) / "store.sqlite"


class Damaged(Exception):
    """The file is, or was, a store, and cannot be worked with as one any more."""


def connect(path: Path, *, lasting: bool = True) -> sqlite3.Connection:
    """Open or make a store to work in.

    Parameters
    ----------
    lasting : bool
        False for a store that is thrown away: nothing waits for the medium then.

    Raises
    ------
    StoreRefused
        The file belongs to something else, or may not be written.
    StoreUnusable
        It is a store that cannot be used for now: a newer one, or locked.
    Damaged
        The file cannot be read as a store of today.
    """
    check_is_ours(path, words.OR_WITHOUT)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        connection = sqlite3.connect(path, timeout=WAIT_FOR_LOCK_S, isolation_level=None)
    except (OSError, sqlite3.Error) as error:
        raise _refusal(path, error) from error
    with _closed_where_it_fails(connection, path):
        _configure(connection)
        tables = check_signed(connection, path)
        if not tables:
            connection.execute(f"PRAGMA page_size = {PAGE_BYTES}")
        _use_wal(connection)
        connection.execute(f"PRAGMA synchronous = {'NORMAL' if lasting else 'OFF'}")
        connection.execute("PRAGMA foreign_keys = ON")
        if not tables:
            with transaction(connection):  # another process may be making and signing them
                for statement in TABLES.split(";"):
                    connection.execute(statement)
                connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
                connection.execute(f"PRAGMA user_version = {VERSION}")
    return connection


@contextlib.contextmanager
def _closed_where_it_fails(
    connection: sqlite3.Connection, path: Path, reading: str | None = None
) -> Iterator[None]:
    """Close a connection that comes to nothing, and say what its error means."""
    try:
        yield
    except BaseException as error:
        connection.close()
        if isinstance(error, READING_ERRORS):
            raise meaning_of(error, path, reading=reading) from error
        raise


def _configure(connection: sqlite3.Connection) -> None:
    """Expect anything of a file: lengths are bounded, and its schema runs nothing."""
    connection.setlimit(sqlite3.SQLITE_LIMIT_LENGTH, MOST_BYTES)
    connection.text_factory = lambda text: text.decode("utf-8", errors="replace")
    connection.execute("PRAGMA trusted_schema = OFF")


def check_is_ours(path: Path, advice: str = words.NAME_ANOTHER) -> None:
    """Never open, and above all never rename, what somebody else wrote.

    Raises
    ------
    StoreRefused
        The file is something else, or cannot be read; ``advice`` says what to do.
    Damaged
        It has the name of a store, and not the header of one.
    """
    try:
        # a pipe would be waited for without end, and a device must never be renamed
        for name in (str(path), *(f"{path}{end}" for end in JOURNALS)):
            if not os.path.isfile(name) and os.path.exists(name):  # noqa: PTH110, PTH113
                raise StoreRefused(words.NOT_A_FILE.format(path=name, advice=advice))
        with path.open("rb") as stream:
            head = stream.read(len(SQLITE_HEADER))
    except FileNotFoundError:
        return
    except OSError as error:
        raise _refusal(path, error, advice) from error
    if head and head != SQLITE_HEADER:
        if path.suffix.lower() in STORE_SUFFIXES:
            raise Damaged("its header is destroyed")
        raise StoreRefused(words.NOT_A_STORE.format(path=path, advice=advice))


def check_signed(
    connection: sqlite3.Connection, path: Path, advice: str = words.NAME_ANOTHER
) -> frozenset[str]:
    """See that a database is a store of today; returns the names of its tables.

    Raises
    ------
    StoreRefused
        It is another program's.
    StoreUnusable
        It is newer than this program.
    Damaged
        It is older, or lacks tables.
    """
    connection.execute("BEGIN")  # all of one moment: another process may be making them
    try:
        (owner,) = connection.execute("PRAGMA application_id").fetchone()
        (version,) = connection.execute("PRAGMA user_version").fetchone()
        named = connection.execute("SELECT name FROM sqlite_master").fetchall()
    finally:
        with contextlib.suppress(sqlite3.Error):  # the database may have ended it by itself
            connection.execute("ROLLBACK")
    tables = frozenset(name for (name,) in named)
    if not tables:
        return tables
    if owner != APPLICATION_ID and not {"frame", "measure", "shoot"} <= tables:
        raise StoreRefused(words.OF_ANOTHER_PROGRAM.format(path=path, advice=advice))
    if version > VERSION:
        raise StoreUnusable(words.NEWER.format(path=path, version=version, known=VERSION))
    if owner != APPLICATION_ID or version != VERSION:
        raise Damaged(f"its tables are of version {version}, not {VERSION}")
    return tables


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


@contextlib.contextmanager
def transaction(connection: sqlite3.Connection) -> Iterator[None]:
    """Keep all of what happens within, or nothing of it."""
    try:
        connection.execute("BEGIN IMMEDIATE")
        yield
        connection.execute("COMMIT")
    except BaseException:
        with contextlib.suppress(sqlite3.Error):  # the database may have rolled back itself
            connection.execute("ROLLBACK")
        raise


def checksum(*parts: object) -> int:
    """Tell changed content from unchanged (CRC-32): the database itself checks no contents.

    What a row lies under is part of it, so that no row passes for another.
    """
    found = 0
    for part in parts:
        found = zlib.crc32(part if isinstance(part, bytes) else repr(part).encode(), found)
    return found


def now_text() -> str:
    """Return this moment, ISO 8601 in UTC, sortable."""
    return datetime.now(UTC).isoformat(timespec="microseconds")


def set_aside(path: Path) -> Path:
    """Rename a damaged store, its journals with it, and return its new name.

    Raises
    ------
    StoreUnusable
        It cannot be renamed.
    """
    stem = f"{path.stem}.damaged-{datetime.now():%Y-%m-%dT%H-%M-%S}"
    names = (f"{stem}{'' if number == 1 else f'-{number}'}{path.suffix}" for number in count(1))
    aside = next(one for one in map(path.with_name, names) if not one.exists())
    try:
        path.rename(aside)
        for journal in JOURNALS:
            with contextlib.suppress(FileNotFoundError):
                Path(f"{path}{journal}").rename(f"{aside}{journal}")
    except OSError as error:
        refused = words.NOT_SET_ASIDE.format(path=path, reason=error.strerror)
        raise StoreUnusable(refused) from error
    return aside


def meaning_of(
    error: Exception, path: Path, *, reading: str | None = None
) -> AuditorError | Damaged:
    """Say what an error of the database means, and what to do.

    Parameters
    ----------
    reading : str, optional
        Of a store that was opened only to be read: what to do, as a sentence.
    """
    extended = getattr(error, "sqlite_errorcode", None) or 0
    code = extended & 0xFF
    text = str(error)
    spoilt = isinstance(error, UnicodeDecodeError) or any(said in text for said in _SAYS_DAMAGE)
    if code == sqlite3.SQLITE_READONLY:  # by its header, where that names a way of writing
        with contextlib.suppress(OSError), path.open("rb") as stream:
            spoilt = stream.read(19)[18:] > b"\x02"  # that nobody knows
    if spoilt or code in _MEANS_DAMAGE:
        return Damaged(text)
    # a log's index that cannot grow is told as trouble of the disk, not as a full one
    if code == sqlite3.SQLITE_FULL or extended == sqlite3.SQLITE_IOERR_SHMSIZE:
        return StoreFull(words.FULL.format(path=path))
    if code in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
        return StoreUnusable(words.LOCKED.format(path=path))
    return _refusal(path, error, reading)


def _refusal(path: Path, error: Exception, reading: str | None = None) -> StoreRefused:
    """Say that the file cannot be opened for writing, or read, and why."""
    reason = getattr(error, "strerror", None) or str(error)
    if reading is None:
        return StoreRefused(words.NOT_WRITABLE.format(path=path, reason=reason))
    advice = words.COPY_WITH_LOG.format(name=path.name) if has_log(path) else reading
    return StoreRefused(words.NOT_READ.format(path=path, reason=reason, advice=advice))


def has_log(path: Path) -> bool:
    """Tell whether some of a store still lies in its write-ahead log."""
    log = f"{os.path.realpath(path)}-wal"
    return os.path.exists(log) and os.path.getsize(log) > 0  # noqa: PTH110, PTH202 - any name


def may_be_written(path: Path) -> bool:
    """Tell whether a store that is there can be written: its folder too, for journals lie there."""
    real = Path(os.path.realpath(path))
    return os.access(real, os.W_OK) and os.access(real.parent, os.W_OK)


def connect_to_read(path: Path, advice: str = words.NAME_ANOTHER) -> sqlite3.Connection:
    """Open a store that is there without ever writing to it.

    A reader of a write-ahead log needs files beside the store (sqlite.org/wal.html, "Read-Only
    Databases"). Only one that might write takes them away again at its end; where nothing can be
    written and no log is waiting, the file is read as it lies.

    Raises
    ------
    StoreRefused
        It is empty, newer than this program, no store at all, or cannot be read.
    Damaged
        It cannot be read as a store of today.
    """
    connection = open_bare(path, advice)
    with _closed_where_it_fails(connection, path, advice):
        if not check_signed(connection, path, advice):
            raise StoreRefused(words.EMPTY.format(path=path, advice=advice))
    return connection


def open_bare(path: Path, advice: str = words.NAME_ANOTHER) -> sqlite3.Connection:
    """Open whatever store it is to be read, as :func:`connect_to_read`, without asking it."""
    check_is_ours(path, advice)
    manner = "ro" if has_log(path) else "rw" if may_be_written(path) else "ro&immutable=1"
    place = f"{path.absolute().as_uri()}?mode={manner}"
    try:
        connection = sqlite3.connect(place, uri=True, timeout=WAIT_FOR_LOCK_S, isolation_level=None)
    except sqlite3.Error as error:
        raise meaning_of(error, path, reading=advice) from error
    with _closed_where_it_fails(connection, path, advice):
        _configure(connection)
        if manner == "rw":
            connection.execute("PRAGMA query_only = ON")
    return connection
