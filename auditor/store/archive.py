"""Whole stores: taken in, and saved from damage as far as they can be."""

from __future__ import annotations

import contextlib
import os
import sqlite3
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from auditor.history.phrases import counted
from auditor.model.errors import StoreRefused
from auditor.store.codec import CannotDecode
from auditor.store.connection import READING_ERRORS, Damaged
from auditor.store.contents import copy_contents
from auditor.store.measurements import check_content
from auditor.store.migrations import STEPS, version_of
from auditor.store.reading import current, open_for_reading, opened
from auditor.store.rows import transaction
from auditor.store.shoots import copy_shoot, shoot_ids

WANTED_BY = "content_key, settings_key, version, stored_at, failure_code"
"""So much of a measurement's row tells whether it is wanted."""

_MEASUREMENT = f"{WANTED_BY}, made_by, record, checksum"
_PART = "name, checksum, content"
_PILE_UP = "make, model, serial, iso, bit_depth, plane, level_dn, from_dn"

_ANOTHER_SOURCE = "Name another file to import."


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
    if not os.path.isfile(path):  # noqa: PTH113 - unlike Path.is_file it takes any name
        raise StoreRefused(f"{path}: there is no such file to import.")
    try:
        opened(path, _ANOTHER_SOURCE).close()
    except Damaged as error:
        raise _too_damaged(path, error) from error


def import_store(connection: sqlite3.Connection, path: Path) -> Taken:
    """Take in what another store holds and this one does not.

    Raises
    ------
    StoreRefused
        There is no such store, it is newer than this program, or it is damaged.
    """
    check_importable(path)
    try:
        with current(path, _ANOTHER_SOURCE) as source:
            taken = take_all(source, connection)
            return replace(taken, complete=taken.complete and _is_sound(source))
    except Damaged as error:
        raise _too_damaged(path, error) from error


def _too_damaged(path: Path, error: Damaged) -> StoreRefused:
    return StoreRefused(f"{path}: is damaged ({error}) and cannot be imported. {_ANOTHER_SOURCE}")


def _is_sound(source: sqlite3.Connection) -> bool:
    """Tell whether the pages hang together: rows of a lost page are missed without an error."""
    try:
        (told,) = source.execute("PRAGMA quick_check(1)").fetchone()
    except READING_ERRORS:
        return False
    return bool(told == "ok")


def take_all(source: sqlite3.Connection, target: sqlite3.Connection) -> Taken:
    """Copy every row that can be read and is not there yet, each on its own."""
    counts = {"measurements": 0, "shoots": 0, "unreadable": 0}
    complete = True
    for table, (ids, all_found), copy in (
        ("measurements", _ids(source), _copy_measurement),
        ("shoots", _shoot_ids(source), copy_shoot),
    ):
        complete &= all_found
        for row_id in ids:
            try:
                counts[table] += copy(source, target, row_id)
            except (CannotDecode, sqlite3.IntegrityError):
                counts["unreadable"] += 1
    with contextlib.suppress(*READING_ERRORS):
        copy_contents(source, target)
    return Taken(**counts, complete=complete)


def salvage(path: Path, target: sqlite3.Connection) -> Taken:
    """Take from a damaged store whatever can still be read, which may be nothing."""
    with contextlib.suppress(*READING_ERRORS), open_for_reading(path) as source:
        if version_of(source) == len(STEPS):
            return take_all(source, target)
    return Taken()


def _ids(source: sqlite3.Connection) -> tuple[list[int], bool]:
    """List the rows, and whether all of them were found.

    They are read from either end: damage in the middle then hides only the middle.
    """
    found: set[int] = set()
    for order in ("ASC", "DESC"):
        with contextlib.suppress(*READING_ERRORS):
            for (row_id,) in source.execute(f"SELECT id FROM measurement ORDER BY id {order}"):
                found.add(row_id)
            return sorted(found), order == "ASC"
    return sorted(found), False


def _shoot_ids(source: sqlite3.Connection) -> tuple[list[int], bool]:
    with contextlib.suppress(*READING_ERRORS):
        return shoot_ids(source), True
    return [], False


def _copy_measurement(source: sqlite3.Connection, target: sqlite3.Connection, row_id: int) -> int:
    try:
        row, parts, heaps = _read_measurement(source, row_id)
    except READING_ERRORS as error:
        raise CannotDecode(str(error)) from error
    with transaction(target):
        if not is_wanted(target, row):
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


def is_wanted(target: sqlite3.Connection, row: Row) -> bool:
    """Tell whether a row that begins with :data:`WANTED_BY` holds more than what is there.

    A later measurement version is more than an earlier, then a measurement than a failure.
    """
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
