"""Which bytes were last read in a place, and under what is kept what was measured of them.

A quick look may find what is known of a file and never proves it. A failure may be believed again
only where neither this program nor its settings have changed.
"""

from __future__ import annotations

import json
import sqlite3
from dataclasses import asdict
from functools import cache
from importlib.metadata import PackageNotFoundError, version

from auditor import __version__
from auditor.model.errors import FailureKind, FileFailure, FrameFailure
from auditor.model.facts import FileFacts, FileLook
from auditor.model.settings import MeasureSettings
from auditor.store.codec import decode, encode
from auditor.store.database import checksum, now_text, transaction

LIMITS = ("time_limit_s", "memory_limit_mb")
"""Settings that decide whether a file is measured, not what is measured."""

OF_THE_CONTENT = frozenset({FailureKind.DAMAGED, FailureKind.UNSUPPORTED})
"""Failures that come again with the same bytes; any other says nothing lasting of the file and is
never kept."""


def settings_key(settings: MeasureSettings) -> str:
    """Return the settings that change what is measured, as text."""
    kept = {name: value for name, value in asdict(settings).items() if name not in LIMITS}
    return json.dumps(kept, sort_keys=True)


def failure_text(failure: FrameFailure) -> str:
    """Return a failure and the versions that made it, as text."""
    told = encode(failure.facts).hex() if isinstance(failure, FileFailure) else None
    return json.dumps([failure.code, failure.message, made_by(), told])


def believed(text: str) -> FrameFailure | None:
    """Return a kept failure; None where it might not come again.

    Raises
    ------
    ValueError, TypeError, CannotDecode
        The text is not one that :func:`failure_text` made.
    """
    code, message, maker, *rest = json.loads(text)
    failure = FrameFailure(code, message)
    told = next(iter(rest), None)  # a store of an earlier version holds none
    if told is not None:
        failure = FileFailure(code, message, decode(FileFacts, bytes.fromhex(told)))
    return failure if maker == made_by() and failure.kind in OF_THE_CONTENT else None


@cache
def made_by() -> str:
    """Name the versions that decide which files can be read at all.

    A failure is believed only by the same: a newer decoder may read what an older could not.
    """
    told = [__version__]
    for decoder in ("rawpy", "imagecodecs"):
        try:
            told.append(version(decoder))
        except PackageNotFoundError:
            told.append("?")
    return " ".join(told)


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
