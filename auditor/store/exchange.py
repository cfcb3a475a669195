"""Whole stores: checked, written out, taken in, and saved from damage as far as they can be."""

from __future__ import annotations

import contextlib
import os
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from auditor.model.errors import CannotWrite, StoreRefused
from auditor.model.numbers import counted
from auditor.store.codec import CannotDecode
from auditor.store.contents import keep_contents, read_contents
from auditor.store.database import (
    READING_ERRORS,
    Damaged,
    checksum,
    connect_to_read,
    has_log,
    may_be_written,
    meaning_of,
    open_bare,
)
from auditor.store.frames import FAILURE, Key, keep_rows, unreadable
from auditor.store.packing import PileUpRow
from auditor.store.shoots import (
    Saved,
    evening_faces,
    is_there,
    load,
    note_evenings,
    save,
    shoot_ids,
)
from auditor.words import store as words

MOST_TOLD = 20


def problems(connection: sqlite3.Connection) -> list[str]:
    """Read everything there is and tell what is not as it was written; empty: all is well."""
    found: list[str] = []
    with _told_where_it_stops(found):
        for (text,) in connection.execute(f"PRAGMA integrity_check({MOST_TOLD})"):
            if text != "ok":
                found.append(words.PAGES.format(what=text))
        orphans = connection.execute("PRAGMA foreign_key_check").fetchmany(MOST_TOLD)
        for table, row_id, parent, _ in orphans:
            found.append(words.ORPHAN.format(row=row_id, table=table, parent=parent))
    with _told_where_it_stops(found):
        for key in _keys(connection):
            lost = ", ".join(sorted(unreadable(connection, key)))
            if lost:
                found.append(words.FILE_LOST.format(file=key[0], names=lost))
    with _told_where_it_stops(found):
        for row_id in shoot_ids(connection):
            try:
                load(connection, row_id)
            except CannotDecode as error:
                found.append(words.SHOOT_LOST.format(row=row_id, why=error))
    return found


@contextlib.contextmanager
def _told_where_it_stops(found: list[str]) -> Iterator[None]:
    try:
        yield
    except READING_ERRORS as error:
        found.append(words.STOPPED.format(why=error))


def _keys(connection: sqlite3.Connection) -> list[Key]:
    return connection.execute("SELECT content_key, settings_key FROM frame").fetchall()


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
    if not _is_sound(connection):  # pages are copied as they are
        raise sqlite3.DatabaseError("its pages are malformed")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(prefix=".export-", dir=path.parent) as folder:
            whole = Path(folder) / "store.sqlite"
            with closing(sqlite3.connect(whole)) as target:
                connection.backup(target)
                target.execute("PRAGMA journal_mode = DELETE")
            with whole.open("rb") as stream:
                os.fsync(stream.fileno())
            whole.replace(path)
    except (OSError, sqlite3.Error, UnicodeEncodeError) as error:
        if isinstance(error, sqlite3.Error) and isinstance(meaning_of(error, path), Damaged):
            raise
        reason = getattr(error, "strerror", None) or str(error)
        raise CannotWrite(words.NOT_EXPORTED.format(path=path, reason=reason)) from error


def _check_may_replace(connection: sqlite3.Connection, own: Path, path: Path) -> None:
    if not os.path.exists(path):  # noqa: PTH110 - unlike Path.exists it takes any name
        return
    if path.samefile(own):
        raise CannotWrite(words.ONTO_ITSELF.format(path=path))
    if path.is_file() and path.stat().st_size == 0:
        return
    if path.is_file() and not may_be_written(path):
        raise _is_there(path, "may not be written")
    if has_log(path):
        # what lies in a journal would be read into the new file
        raise _is_there(path, "is in use as a store")
    try:
        with closing(connect_to_read(path)) as there:
            files = set(_keys(there)) - set(_keys(connection))
            ask = "SELECT frame_key, shoot_id FROM shoot_frame"
            known = {key for key, _ in connection.execute(ask)}
            shoots = {shoot for key, shoot in there.execute(ask) if key not in known}
    except (StoreRefused, Damaged, *READING_ERRORS) as error:
        raise _is_there(path, "is not a store, or not one that can be read") from error
    if files or shoots:
        lost = (files, "measured file"), (shoots, "shoot")
        more = " and ".join(counted(len(some), noun) for some, noun in lost if some)
        raise CannotWrite(words.HOLDS_MORE.format(path=path, more=more))


def _is_there(path: Path, why: str) -> CannotWrite:
    return CannotWrite(words.IN_THE_WAY.format(path=path, why=why))


@dataclass(frozen=True, slots=True)
class Taken:
    """What was taken from another store; rows that it could not read are counted, not hidden."""

    measurements: int = 0
    shoots: int = 0
    unreadable: int = 0
    complete: bool = True
    """False where damage hides how much there was."""

    @property
    def whole(self) -> bool:
        """Whether all that the other store held could be read."""
        return self.complete and not self.unreadable

    def __str__(self) -> str:
        text = f"{counted(self.measurements, 'measurement')} and {counted(self.shoots, 'shoot')}"
        return text if not self.unreadable else f"{text}; {self.unreadable} could not be read"


def check_importable(path: Path) -> None:
    """See that a file can be opened as another store, before anything is made for it.

    Raises
    ------
    StoreRefused
        There is no such file, or it is newer than this program, damaged, empty or no store.
    """
    _to_import(path).close()


def _to_import(path: Path) -> sqlite3.Connection:
    if not os.path.isfile(path):  # noqa: PTH113 - unlike Path.is_file it takes any name
        raise StoreRefused(words.NO_SUCH_IMPORT.format(path=path))
    try:
        return connect_to_read(path, words.IMPORT_ANOTHER)
    except Damaged as error:
        told = words.DAMAGED_IMPORT.format(path=path, why=error, advice=words.IMPORT_ANOTHER)
        raise StoreRefused(told) from error


def import_store(connection: sqlite3.Connection, path: Path) -> Taken:
    """Take in what another store holds and this one does not.

    Raises
    ------
    StoreRefused
        There is no such store, it is newer than this program, or it is damaged.
    """
    with closing(_to_import(path)) as source:
        return _take(source, connection)


def salvage(path: Path, target: sqlite3.Connection) -> Taken:
    """Take from a damaged store whatever can still be read, which may be nothing."""
    with contextlib.suppress(StoreRefused, Damaged), closing(open_bare(path)) as source:
        return _take(source, target)
    return Taken(complete=False)


def _take(source: sqlite3.Connection, target: sqlite3.Connection) -> Taken:
    """Copy every row that can be read and is not there yet, each on its own."""
    measurements = shoots = unread = 0
    complete = _is_sound(source)
    # from either end: damage in the middle then hides only the middle
    keys: dict[Key, None] = {}
    for order in ("ORDER BY id", "ORDER BY id DESC"):
        with contextlib.suppress(*READING_ERRORS):
            for key in source.execute(f"SELECT content_key, settings_key FROM frame {order}"):
                keys[key] = None
            break  # all were found
    for key in keys:
        try:
            measurements += _copy_frame(source, target, key)
        except CannotDecode:
            unread += 1
    row_ids: list[int] = []
    with contextlib.suppress(*READING_ERRORS):
        row_ids = shoot_ids(source)
    for row_id in row_ids:
        try:
            audit = load(source, row_id)
        except (CannotDecode, *READING_ERRORS):
            unread += 1
            continue
        if is_there(target, audit) or save(target, audit) not in (Saved.ADDED, Saved.REPLACED):
            continue
        shoots += 1
        with contextlib.suppress(*READING_ERRORS):  # an evening's picture is no reason to fail
            note_evenings(target, audit, evening_faces(source, row_id))
    contents: list[tuple[object, ...]] = []
    with contextlib.suppress(*READING_ERRORS):
        contents = read_contents(source)
    keep_contents(target, contents)
    return Taken(measurements, shoots, unread, complete)


def _is_sound(source: sqlite3.Connection) -> bool:
    """Tell whether the pages hang together: rows of a lost page are missed without an error."""
    try:
        (told,) = source.execute("PRAGMA quick_check(1)").fetchone()
    except READING_ERRORS:
        return False
    return bool(told == "ok")


def _copy_frame(source: sqlite3.Connection, target: sqlite3.Connection, key: Key) -> bool:
    """Copy the measures of a file that the other store lacks, or has in an older version.

    A measurement is more than a failure.
    """
    of_frame = "JOIN frame ON frame.id = frame_id WHERE content_key = ? AND settings_key = ?"
    ask = f"SELECT name, version, measure.checksum FROM measure {of_frame}"
    there = {name: version for name, version, _ in target.execute(ask, key)}
    try:
        rows = source.execute(ask.replace("checksum", "checksum, record"), key).fetchall()
        heaps: list[tuple[*PileUpRow, int]] = source.execute(
            f"""SELECT make, model, serial, iso, bit_depth, plane, level_dn, from_dn, checksum
            FROM pile_up {of_frame}""",
            key,
        ).fetchall()
    except READING_ERRORS as error:
        raise CannotDecode(str(error)) from error
    sound = [
        row
        for row in rows
        if isinstance(row[3], bytes) and row[2] == checksum(*key, *row[:2], row[3])
    ]
    wanted = [
        row for row in sound if (row[0] != FAILURE or not there) and row[1] > there.get(row[0], -1)
    ]
    if wanted:
        keep_rows(
            target, key, wanted, [heap[:8] for heap in heaps if checksum(*heap[:8]) == heap[8]]
        )
    if len(sound) < len(rows) or not rows:
        raise CannotDecode("a row is not what was written")
    return bool(wanted)
