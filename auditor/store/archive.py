"""Whole stores: copied out, taken in, and saved from damage as far as they can be."""

from __future__ import annotations

import contextlib
import os
import sqlite3
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from auditor.model.errors import CannotWrite, StoreRefused
from auditor.store.codec import CannotDecode
from auditor.store.connection import READING_ERRORS, Damaged, connect, meaning_of, open_for_reading
from auditor.store.measurements import check_content
from auditor.store.migrations import STEPS, check_not_newer, migrate, version_of
from auditor.store.rows import transaction
from auditor.store.shoots import copy_shoot, shoot_ids

_MEASUREMENT = (
    "content_key, settings_key, version, stored_at, failure_code, made_by, record, checksum"
)
_PART = "name, checksum, content"
_PILE_UP = "make, model, serial, iso, bit_depth, plane, level_dn, from_dn"


@dataclass(frozen=True, slots=True)
class Taken:
    """What was taken from another store; rows that it could not read are counted, not hidden."""

    measurements: int = 0
    shoots: int = 0
    unreadable: int = 0

    def __str__(self) -> str:
        text = f"{self.measurements} measurements and {self.shoots} shoots"
        return text if not self.unreadable else f"{text}; {self.unreadable} could not be read"


def export_store(connection: sqlite3.Connection, own: Path, path: Path) -> None:
    """Write the whole store into one file of its own; an older export is replaced in one step.

    Parameters
    ----------
    own : Path
        Where the store itself lies.

    Raises
    ------
    CannotWrite
        The folder cannot be written, or the file there is the store itself or no store at all.
    sqlite3.DatabaseError
        The store is damaged.
    """
    _check_may_replace(own, path)
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


def _check_may_replace(own: Path, path: Path) -> None:
    if not os.path.exists(path):  # noqa: PTH110 - unlike Path.exists it takes any name
        return
    if path.samefile(own):
        raise CannotWrite(f"{path}: is the store itself. Choose another name for the export.")
    try:
        connect(path).close()
    except (StoreRefused, Damaged) as error:
        raise CannotWrite(
            f"{path}: is there already and is not a store. Choose another name for the export."
        ) from error


def _flush(path: Path) -> None:
    with path.open("rb") as stream:
        os.fsync(stream.fileno())


def import_store(connection: sqlite3.Connection, path: Path) -> Taken:
    """Take in what another store holds and this one does not.

    Raises
    ------
    StoreRefused
        There is no such store, it is newer than this program, or it is damaged.
    """
    if not os.path.isfile(path):  # noqa: PTH113 - unlike Path.is_file it takes any name
        raise StoreRefused(f"{path}: there is no such file to import.")
    try:
        with _current(path) as source:
            return take_all(source, connection)
    except Damaged as error:
        raise StoreRefused(f"{path}: is damaged ({error}) and cannot be imported.") from error


@contextlib.contextmanager
def _current(path: Path) -> Iterator[sqlite3.Connection]:
    """Open another store for reading; an older one is brought up to date in a copy of it."""
    with tempfile.TemporaryDirectory(prefix="exposure-auditor-") as folder:
        copy = Path(folder) / "store.sqlite"
        # what goes wrong while rows are taken is the taker's to tell, so nothing is caught there
        with contextlib.closing(_opened(path)) as source:
            if version_of(source) == len(STEPS):
                yield source
                return
            _back_up(source, copy, path)
        with contextlib.closing(connect(copy, lasting=False)) as older:
            migrate(older, path)
            yield older


def _opened(path: Path) -> sqlite3.Connection:
    try:
        with contextlib.ExitStack() as on_error:
            source = on_error.enter_context(open_for_reading(path))
            check_not_newer(source, path)
            on_error.pop_all()
            return source
    except READING_ERRORS as error:
        raise meaning_of(error, path) from error


def _back_up(source: sqlite3.Connection, copy: Path, path: Path) -> None:
    try:
        with contextlib.closing(sqlite3.connect(copy)) as target:
            source.backup(target)
    except READING_ERRORS as error:
        raise meaning_of(error, path) from error


def take_all(source: sqlite3.Connection, target: sqlite3.Connection) -> Taken:
    """Copy every row that can be read and is not there yet, each on its own."""
    counts = {"measurements": 0, "shoots": 0, "unreadable": 0}
    for table, ids, copy in (
        ("measurements", _ids(source), _copy_measurement),
        ("shoots", _shoot_ids(source), copy_shoot),
    ):
        for row_id in ids:
            try:
                counts[table] += copy(source, target, row_id)
            except (CannotDecode, sqlite3.IntegrityError):
                counts["unreadable"] += 1
    return Taken(**counts)


def salvage(path: Path, target: sqlite3.Connection) -> Taken:
    """Take from a damaged store whatever can still be read, which may be nothing."""
    with contextlib.suppress(*READING_ERRORS), open_for_reading(path) as source:
        if version_of(source) == len(STEPS):
            return take_all(source, target)
    return Taken()


def _ids(source: sqlite3.Connection) -> list[int]:
    """List the rows from either end: damage in the middle then hides only the middle."""
    found: set[int] = set()
    for order in ("ASC", "DESC"):
        with contextlib.suppress(*READING_ERRORS):
            for (row_id,) in source.execute(f"SELECT id FROM measurement ORDER BY id {order}"):
                found.add(row_id)
            break
    return sorted(found)


def _shoot_ids(source: sqlite3.Connection) -> list[int]:
    with contextlib.suppress(*READING_ERRORS):
        return shoot_ids(source)
    return []


def _copy_measurement(source: sqlite3.Connection, target: sqlite3.Connection, row_id: int) -> int:
    try:
        row, parts, heaps = _read_measurement(source, row_id)
    except READING_ERRORS as error:
        raise CannotDecode(str(error)) from error
    with transaction(target):
        if not _is_wanted(target, row):
            return 0
        target.execute(
            "DELETE FROM measurement WHERE content_key = ? AND settings_key = ?", row[:2]
        )
        new_id = _insert(target, "measurement", _MEASUREMENT, row)
        for table, columns, rows in (("part", _PART, parts), ("pile_up", _PILE_UP, heaps)):
            for values in rows:
                _insert(target, table, f"measurement_id, {columns}", (new_id, *values))
    return 1


Row = tuple[Any, ...]


def _read_measurement(source: sqlite3.Connection, row_id: int) -> tuple[Row, list[Row], list[Row]]:
    row = source.execute(
        f"SELECT {_MEASUREMENT} FROM measurement WHERE id = ?", (row_id,)
    ).fetchone()
    of_frame = "WHERE measurement_id = ?"
    parts = source.execute(f"SELECT {_PART} FROM part {of_frame}", (row_id,)).fetchall()
    heaps = source.execute(f"SELECT {_PILE_UP} FROM pile_up {of_frame}", (row_id,)).fetchall()
    if row is None:
        raise CannotDecode("it is gone")
    check_content(row[-2], row[-1])
    for _, wanted, content in parts:
        check_content(content, wanted)
    return row, parts, heaps


def _is_wanted(target: sqlite3.Connection, row: Row) -> bool:
    """Prefer a later measurement version to an earlier, then a measurement to a failure."""
    there = target.execute(
        """SELECT version, failure_code IS NULL FROM measurement
        WHERE content_key = ? AND settings_key = ?""",
        row[:2],
    ).fetchone()
    return there is None or (row[2], int(row[4] is None)) > tuple(there)


def _insert(target: sqlite3.Connection, table: str, columns: str, values: Row) -> int:
    marks = ", ".join("?" * len(values))
    inserted = target.execute(f"INSERT INTO {table} ({columns}) VALUES ({marks})", values)
    return int(inserted.lastrowid or 0)
