"""Whether a store is whole, in sentences."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator

from auditor.model.measurement import MEASUREMENT_VERSION
from auditor.store.codec import CannotDecode
from auditor.store.connection import READING_ERRORS
from auditor.store.measurements import fetch
from auditor.store.shoots import load, shoot_ids

MOST_TOLD = 20


def problems(connection: sqlite3.Connection) -> list[str]:
    """Read everything there is and tell what is not as it was written; empty: all is well."""
    found: list[str] = []
    for check in (_of_pages, _of_links, _of_measurements, _of_shoots):
        try:
            for problem in check(connection):
                found.append(problem)  # noqa: PERF402 - what was found before an error stands
        except READING_ERRORS as error:
            found.append(f"Reading stopped before the end: {error}.")
    return found


def _of_pages(connection: sqlite3.Connection) -> Iterator[str]:
    for (text,) in connection.execute(f"PRAGMA integrity_check({MOST_TOLD})"):
        if text != "ok":
            yield f"The file is damaged: {text}."


def _of_links(connection: sqlite3.Connection) -> Iterator[str]:
    for table, row_id, parent, _ in connection.execute("PRAGMA foreign_key_check").fetchmany(
        MOST_TOLD
    ):
        yield f"Row {row_id} of {table} has lost its {parent}."


def _of_measurements(connection: sqlite3.Connection) -> Iterator[str]:
    rows = connection.execute(
        "SELECT id, content_key FROM measurement WHERE failure_code IS NULL AND version = ?",
        (MEASUREMENT_VERSION,),
    ).fetchall()
    for row_id, content_key in rows:
        try:
            fetch(connection, row_id)
        except CannotDecode as error:
            yield f"Measurement {content_key} cannot be read: {error}. It will be measured again."


def _of_shoots(connection: sqlite3.Connection) -> Iterator[str]:
    for row_id in shoot_ids(connection):
        try:
            load(connection, row_id)
        except CannotDecode as error:
            yield f"Shoot {row_id} cannot be read: {error}. Audit its card again."
