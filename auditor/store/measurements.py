"""Measurements and failures by content, version and measuring settings."""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass
from typing import Literal

from auditor.model.errors import FrameFailure
from auditor.model.facts import FileFacts
from auditor.model.measurement import MEASUREMENT_VERSION, FrameMeasurement
from auditor.model.settings import MeasureSettings
from auditor.store.codec import CannotDecode, Packed, Record, unpack
from auditor.store.keys import OF_THE_CONTENT, believed, failure_text, made_by, settings_key
from auditor.store.packing import ALL_PARTS, PackedMeasurement
from auditor.store.rows import checksum, now_text, transaction

_FIND = """SELECT id, failure_code IS NOT NULL, record, checksum FROM measurement
    WHERE content_key = ? AND settings_key = ? AND version = ?"""


def find(
    connection: sqlite3.Connection, content_key: str, settings: MeasureSettings
) -> int | FrameFailure | None:
    """Return the row of a measurement, or the failure kept in its place, or None.

    Rows of another measurement version, and failures that may not come again, count as absent.
    """
    key = (content_key, settings_key(settings), MEASUREMENT_VERSION)
    row = connection.execute(_FIND, key).fetchone()
    if row is None:
        return None
    row_id, failed, text, text_sum = row
    if not failed:
        return int(row_id)
    try:
        check_content(text, text_sum)
        return believed(text)
    except (CannotDecode, ValueError, TypeError):
        return None


def fetch(
    connection: sqlite3.Connection, row_id: int, parts: frozenset[str] = ALL_PARTS
) -> FrameMeasurement:
    """Fetch a measurement; arrays and bytes of parts not asked for come back empty.

    Raises
    ------
    CannotDecode
        The row was changed by something else than this program.
    """
    return fetch_as(FrameMeasurement, connection, row_id, parts)


def fetch_as(
    kind: type[Record], connection: sqlite3.Connection, row_id: int, parts: frozenset[str]
) -> Record:
    """Fetch so much of a measurement as ``kind`` has fields for, nested ones too.

    Raises
    ------
    CannotDecode
        The row was changed by something else than this program.
    """
    row = connection.execute(
        "SELECT record, checksum FROM measurement WHERE id = ?", (row_id,)
    ).fetchone()
    if row is None:
        raise CannotDecode("it is gone")
    text, text_sum = row
    check_content(text, text_sum)
    found: dict[str, bytes] = {}
    marks = ",".join("?" * len(parts))
    for name, content, content_sum in connection.execute(
        f"SELECT name, content, checksum FROM part WHERE measurement_id = ? AND name IN ({marks})",
        (row_id, *sorted(parts)),
    ):
        check_content(content, content_sum)
        found[name] = content
    missing = parts - found.keys()
    if missing:
        raise CannotDecode(f"no {' and no '.join(sorted(missing))}")
    return unpack(kind, Packed(text, found))


@dataclass(frozen=True, slots=True)
class FactsAlone:
    """So much of a measurement as the file said of itself."""

    facts: FileFacts


def check_content(content: str | bytes, wanted: int) -> None:
    """Compare a content with its checksum; CannotDecode where they differ."""
    try:
        same = checksum(content) == wanted
    except (UnicodeEncodeError, TypeError) as error:
        raise CannotDecode("not what was written") from error
    if not same:
        raise CannotDecode("not what was written")


def keep(
    connection: sqlite3.Connection,
    content_key: str,
    settings: MeasureSettings,
    result: PackedMeasurement | FrameFailure,
) -> None:
    """Keep what came of one file, in place of what was kept before; all or nothing."""
    if isinstance(result, FrameFailure):
        if result.kind in OF_THE_CONTENT:
            text = failure_text(result)
            with transaction(connection):
                _insert(connection, content_key, settings, text, result.code)
        return
    with transaction(connection):
        row_id = _insert(connection, content_key, settings, result.text, None)
        _keep_parts(connection, row_id, result)


def _keep_parts(connection: sqlite3.Connection, row_id: int, result: PackedMeasurement) -> None:
    contents = [(name, result.parts.get(name, b"")) for name in sorted(ALL_PARTS)]
    connection.executemany(
        "INSERT INTO part (measurement_id, name, checksum, content) VALUES (?, ?, ?, ?)",
        [(row_id, name, checksum(content), content) for name, content in contents],
    )
    connection.executemany(
        """INSERT INTO pile_up (measurement_id, make, model, serial, iso, bit_depth, plane,
            level_dn, from_dn) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)""",
        [(row_id, *heap) for heap in result.pile_ups],
    )


def _insert(
    connection: sqlite3.Connection,
    content_key: str,
    settings: MeasureSettings,
    record: str,
    failure_code: str | None,
) -> int:
    key = (content_key, settings_key(settings))
    connection.execute("DELETE FROM measurement WHERE content_key = ? AND settings_key = ?", key)
    row = (MEASUREMENT_VERSION, now_text(), failure_code, made_by(), record, checksum(record))
    inserted = connection.execute(
        """INSERT INTO measurement (content_key, settings_key, version, stored_at, failure_code,
            made_by, record, checksum) VALUES (?, ?, ?, ?, ?, ?, ?, ?)""",
        (*key, *row),
    )
    return int(inserted.lastrowid or 0)


def forget(connection: sqlite3.Connection, row_id: int) -> None:
    """Drop one row, so that its file is measured again."""
    with transaction(connection):
        connection.execute("DELETE FROM measurement WHERE id = ?", (row_id,))


Known = Literal["measured"] | FrameFailure | None
"""What is known of a file: that it was measured, why it cannot be, or nothing."""
