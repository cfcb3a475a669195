"""Small things that every table shares: transactions, checksums, moments."""

from __future__ import annotations

import contextlib
import sqlite3
import zlib
from collections.abc import Iterator
from datetime import UTC, datetime


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


def checksum(content: bytes | str) -> int:
    """Tell changed content from unchanged (Adler-32): the database itself checks no contents."""
    return zlib.adler32(content.encode("ascii") if isinstance(content, str) else content)


def now_text() -> str:
    """Return this moment, ISO 8601 in UTC, sortable."""
    return datetime.now(UTC).isoformat(timespec="microseconds")
