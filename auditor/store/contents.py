"""Which bytes were last read in which place: what a quick look may find, never what it proves."""

from __future__ import annotations

import sqlite3

from auditor.model.facts import FileLook
from auditor.store.rows import now_text, transaction

MOST_PLACES = 8
"""Of one content; a card that is put in again is another place each time."""


def content_at(connection: sqlite3.Connection, look: FileLook) -> str | None:
    """Return the digest of what was read in that very place, unchanged since; None if unknown."""
    row = connection.execute("SELECT digest FROM content WHERE place = ?", (look.key,)).fetchone()
    return None if row is None else str(row[0])


def contents_like(connection: sqlite3.Connection, look: FileLook) -> list[str]:
    """Return the digests of all that was read with the same size and ends."""
    rows = connection.execute("SELECT DISTINCT digest FROM content WHERE ends = ?", (look.ends,))
    return sorted(str(digest) for (digest,) in rows)


def note_content(connection: sqlite3.Connection, look: FileLook, digest: str) -> None:
    """Keep the digest of what was just read in a place."""
    with transaction(connection):
        connection.execute(
            "INSERT OR REPLACE INTO content (place, ends, digest, read_at) VALUES (?, ?, ?, ?)",
            (look.key, look.ends, digest, now_text()),
        )
        connection.execute(
            """DELETE FROM content WHERE digest = ? AND place NOT IN (SELECT place FROM content
            WHERE digest = ? ORDER BY read_at DESC, rowid DESC LIMIT ?)""",
            (digest, digest, MOST_PLACES),
        )


def copy_contents(source: sqlite3.Connection, target: sqlite3.Connection) -> None:
    """Take over what another store knows of contents and this one does not."""
    rows = source.execute("SELECT place, ends, digest, read_at FROM content").fetchall()
    with transaction(target):
        target.executemany(
            "INSERT OR IGNORE INTO content (place, ends, digest, read_at) VALUES (?, ?, ?, ?)",
            rows,
        )
