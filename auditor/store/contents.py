"""Which bytes were last read in which place: what a quick look may find, never what it proves."""

from __future__ import annotations

import sqlite3

from auditor.model.facts import FileLook
from auditor.store.database import checksum, now_text, transaction

MOST_PLACES = 8
"""Of one content; a card that is put in again is another place each time."""


def content_at(connection: sqlite3.Connection, look: FileLook) -> str | None:
    """Return the digest of what was read in that very place, unchanged since; None if unknown."""
    row = connection.execute(
        "SELECT digest, checksum FROM content WHERE place = ?", (look.key,)
    ).fetchone()
    sound = row is not None and checksum(look.key, row[0]) == row[1]
    return str(row[0]) if sound else None


def contents_like(connection: sqlite3.Connection, look: FileLook) -> list[str]:
    """Return the digests of all that was read with the same size and ends."""
    rows = connection.execute("SELECT DISTINCT digest FROM content WHERE ends = ?", (look.ends,))
    return sorted(str(digest) for (digest,) in rows)


def note_content(connection: sqlite3.Connection, look: FileLook, digest: str) -> None:
    """Keep the digest of what was just read in a place."""
    with transaction(connection):
        connection.execute(
            "INSERT OR REPLACE INTO content VALUES (?, ?, ?, ?, ?)",
            (look.key, look.ends, digest, now_text(), checksum(look.key, digest)),
        )
        connection.execute(
            """DELETE FROM content WHERE digest = ? AND place NOT IN (SELECT place FROM content
            WHERE digest = ? ORDER BY read_at DESC, rowid DESC LIMIT ?)""",
            (digest, digest, MOST_PLACES),
        )


def read_contents(source: sqlite3.Connection) -> list[tuple[object, ...]]:
    """Return all that a store knows of contents."""
    return source.execute("SELECT place, ends, digest, read_at, checksum FROM content").fetchall()


def keep_contents(target: sqlite3.Connection, rows: list[tuple[object, ...]]) -> None:
    """Take over what another store knows of contents and this one does not."""
    with transaction(target):
        target.executemany("INSERT OR IGNORE INTO content VALUES (?, ?, ?, ?, ?)", rows)
