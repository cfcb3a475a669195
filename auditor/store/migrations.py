"""The store's tables, as numbered steps; a step and its number are recorded together."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Sequence
from pathlib import Path

from auditor.model.errors import StoreRefused
from auditor.store.connection import APPLICATION_ID

Step = Callable[[sqlite3.Connection], None]


def _measurements(connection: sqlite3.Connection) -> None:
    """Keep what was measured on each file, and where each plane's clipped pixels pile up."""
    connection.execute(
        """CREATE TABLE measurement (
            id INTEGER PRIMARY KEY AUTOINCREMENT,
            content_key TEXT NOT NULL,
            settings_key TEXT NOT NULL,
            version INTEGER NOT NULL,
            stored_at TEXT NOT NULL,
            failure_code TEXT,
            made_by TEXT NOT NULL,
            record TEXT NOT NULL,
            checksum INTEGER NOT NULL,
            UNIQUE (content_key, settings_key))"""
    )
    connection.execute(
        """CREATE TABLE part (
            measurement_id INTEGER NOT NULL REFERENCES measurement ON DELETE CASCADE,
            name TEXT NOT NULL,
            checksum INTEGER NOT NULL,
            content BLOB NOT NULL,
            PRIMARY KEY (measurement_id, name))"""
    )
    connection.execute(
        """CREATE TABLE pile_up (
            measurement_id INTEGER NOT NULL REFERENCES measurement ON DELETE CASCADE,
            make TEXT NOT NULL,
            model TEXT NOT NULL,
            serial TEXT NOT NULL,
            iso REAL NOT NULL,
            bit_depth INTEGER NOT NULL,
            plane TEXT NOT NULL,
            level_dn REAL NOT NULL,
            from_dn REAL NOT NULL)"""
    )
    connection.execute("CREATE INDEX pile_up_of_frame ON pile_up (measurement_id)")
    connection.execute(
        "CREATE INDEX pile_up_of_body ON pile_up (make, model, serial, iso, bit_depth, plane)"
    )


def _shoots(connection: sqlite3.Connection) -> None:
    """Keep the audits of past shoots, and which frames each of them held."""
    connection.execute(
        """CREATE TABLE shoot (
            id INTEGER PRIMARY KEY,
            saved_at TEXT NOT NULL,
            first_at TEXT NOT NULL,
            schema_version TEXT NOT NULL,
            checksum INTEGER NOT NULL,
            audit BLOB NOT NULL)"""
    )
    connection.execute(
        """CREATE TABLE shoot_frame (
            frame_key TEXT NOT NULL,
            shoot_id INTEGER NOT NULL REFERENCES shoot ON DELETE CASCADE,
            PRIMARY KEY (frame_key, shoot_id)) WITHOUT ROWID"""
    )
    connection.execute("CREATE INDEX shoot_frame_of_shoot ON shoot_frame (shoot_id)")


def _conclusions(connection: sqlite3.Connection) -> None:
    """Keep the latest audits whole, for as long as nothing changes that they depend on."""
    connection.execute(
        """CREATE TABLE conclusion (
            conclusion_key TEXT PRIMARY KEY,
            saved_at TEXT NOT NULL,
            checksum INTEGER NOT NULL,
            audit BLOB NOT NULL)"""
    )


def _contents(connection: sqlite3.Connection) -> None:
    """Keep which bytes were last read where."""
    connection.execute(
        """CREATE TABLE content (
            place TEXT PRIMARY KEY,
            ends TEXT NOT NULL,
            digest TEXT NOT NULL,
            read_at TEXT NOT NULL)"""
    )
    connection.execute("CREATE INDEX content_of_ends ON content (ends)")
    connection.execute("CREATE INDEX content_of_digest ON content (digest)")


STEPS: tuple[Step, ...] = (_measurements, _shoots, _conclusions, _contents)
"""Only ever appended to: step n takes a store of version n - 1 to version n."""


def version_of(connection: sqlite3.Connection) -> int:
    """Return the number of steps the store has taken."""
    (version,) = connection.execute("PRAGMA user_version").fetchone()
    return int(version)


def check_not_newer(connection: sqlite3.Connection, path: Path, steps: int = len(STEPS)) -> None:
    """Refuse a store that this program cannot know.

    Raises
    ------
    StoreRefused
        The store has taken more steps than there are here.
    """
    version = version_of(connection)
    if version > steps:
        raise StoreRefused(
            f"{path}: was written by a newer version of this program (store version {version}, "
            f"this one knows {steps}). Update the program, or name another file with --store."
        )


def migrate(connection: sqlite3.Connection, path: Path, steps: Sequence[Step] = STEPS) -> None:
    """Take the steps that are missing, each with its number in one transaction.

    Raises
    ------
    StoreRefused
        The store is newer than this program.
    """
    check_not_newer(connection, path, len(steps))
    while version_of(connection) < len(steps):
        connection.execute("BEGIN IMMEDIATE")
        try:
            # Another process may have taken the step while this one waited for the lock.
            version = version_of(connection)
            if version < len(steps):
                steps[version](connection)
                connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
                connection.execute(f"PRAGMA user_version = {version + 1}")
            connection.execute("COMMIT")
        except BaseException:
            connection.execute("ROLLBACK")
            raise
