"""Conclusions kept for as long as nothing has changed that they were drawn from.

Facts are stored and opinions derived; this only saves deriving the very same opinions twice. The
key holds everything they depend on: the files, the failures, the settings, what the history
says, and the program itself, down to the time at which each of its modules was written.
"""

from __future__ import annotations

import hashlib
import sqlite3
from collections.abc import Sequence
from typing import Any

from auditor.files.program import program_digest
from auditor.model.audit import Audit
from auditor.model.measures import MEASURES
from auditor.store.codec import CannotDecode, decode_deflated, encode, encode_deflated
from auditor.store.database import MOST_BYTES, checksum, now_text, transaction

MOST_KEPT = 12


def conclusion_key(connection: sqlite3.Connection, inputs: Sequence[Any], others: list[int]) -> str:
    """Return the key of what is concluded from these inputs.

    Parameters
    ----------
    inputs : sequence
        Records, texts, numbers, mappings and sequences of these.
    others : list of int
        Rows of the past shoots that may have a say.
    """
    said = connection.execute("SELECT max(id) FROM measure").fetchone()[0]
    shoots = [
        connection.execute("SELECT checksum, saved_at FROM shoot WHERE id = ?", (row,)).fetchone()
        for row in others
    ]
    versions = [(measure.name, measure.version) for measure in MEASURES]
    told = encode((program_digest(), versions, said, shoots, tuple(inputs)))
    return hashlib.sha256(told).hexdigest()


def recall(connection: sqlite3.Connection, key: str) -> Audit | None:
    """Return the audit concluded under that key; None where there is none that can be read."""
    row = connection.execute(
        "SELECT audit, checksum FROM conclusion WHERE conclusion_key = ?", (key,)
    ).fetchone()
    if row is None or not isinstance(row[0], bytes) or checksum(key, row[0]) != row[1]:
        return None
    try:
        return decode_deflated(Audit, row[0])
    except CannotDecode:
        return None


def remember(connection: sqlite3.Connection, key: str, audit: Audit) -> None:
    """Keep an audit under its key, and only the latest few; none too large to be read again."""
    content = encode_deflated(audit)
    if len(content) > MOST_BYTES // 2:
        return
    with transaction(connection):
        connection.execute(
            """INSERT OR REPLACE INTO conclusion (conclusion_key, saved_at, checksum, audit)
            VALUES (?, ?, ?, ?)""",
            (key, now_text(), checksum(key, content), content),
        )
        connection.execute(
            """DELETE FROM conclusion WHERE conclusion_key NOT IN
            (SELECT conclusion_key FROM conclusion ORDER BY saved_at DESC LIMIT ?)""",
            (MOST_KEPT,),
        )
