"""Conclusions kept for as long as nothing has changed that they were drawn from.

Facts are stored and opinions derived; this only saves deriving the very same opinions twice. The
key holds everything they depend on: the files, the failures, the settings, what the history
says, and the program itself, down to the time at which each of its modules was written.
"""

from __future__ import annotations

import dataclasses
import hashlib
import json
import sqlite3
import zlib
from collections.abc import Mapping, Sequence
from functools import cache
from importlib.metadata import version
from pathlib import Path
from typing import Any

import auditor
from auditor.model.audit import Audit
from auditor.model.measurement import MEASUREMENT_VERSION
from auditor.store.codec import CannotDecode, Packed, pack, unpack
from auditor.store.measurements import check_content
from auditor.store.rows import checksum, now_text, transaction

MOST_KEPT = 12
_LIBRARIES = ("numpy", "scipy", "ephem")


def conclusion_key(connection: sqlite3.Connection, inputs: Sequence[Any], others: list[int]) -> str:
    """Return the key of what is concluded from these inputs.

    Parameters
    ----------
    inputs : sequence
        Records, texts, numbers, mappings and sequences of these.
    others : list of int
        Rows of the past shoots that may have a say.
    """
    said = connection.execute("SELECT max(id) FROM measurement").fetchone()[0]
    shoots = [
        connection.execute("SELECT checksum, saved_at FROM shoot WHERE id = ?", (row,)).fetchone()
        for row in others
    ]
    plain = [_program(), MEASUREMENT_VERSION, said, shoots, _plain(inputs)]
    return hashlib.sha256(json.dumps(plain).encode("ascii")).hexdigest()


def recall(connection: sqlite3.Connection, key: str) -> Audit | None:
    """Return the audit concluded under that key; None where there is none that can be read."""
    row = connection.execute(
        "SELECT audit, checksum FROM conclusion WHERE conclusion_key = ?", (key,)
    ).fetchone()
    if row is None:
        return None
    try:
        check_content(*row)
        return unpack(Audit, Packed(zlib.decompress(row[0]).decode("ascii"), {}))
    except (CannotDecode, zlib.error, UnicodeDecodeError):
        return None


def remember(connection: sqlite3.Connection, key: str, audit: Audit) -> None:
    """Keep an audit under its key, and only the latest few."""
    content = zlib.compress(pack(audit).text.encode("ascii"), 1)
    with transaction(connection):
        connection.execute(
            """INSERT OR REPLACE INTO conclusion (conclusion_key, saved_at, checksum, audit)
            VALUES (?, ?, ?, ?)""",
            (key, now_text(), checksum(content), content),
        )
        connection.execute(
            """DELETE FROM conclusion WHERE conclusion_key NOT IN
            (SELECT conclusion_key FROM conclusion ORDER BY saved_at DESC LIMIT ?)""",
            (MOST_KEPT,),
        )


@cache
def _program() -> str:
    """Tell this very program from any other version of it, edited ones included."""
    root = Path(auditor.__file__).parent
    modules = [
        (str(path.relative_to(root)), stat.st_size, stat.st_mtime_ns)
        for path in sorted(root.rglob("*.py"))
        for stat in (path.stat(),)
    ]
    libraries = [version(name) for name in _LIBRARIES]
    return hashlib.sha256(json.dumps([modules, libraries]).encode("ascii")).hexdigest()


def _plain(value: Any) -> Any:
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return [type(value).__name__, pack(value).text]
    if isinstance(value, Mapping):
        return [[_plain(key), _plain(item)] for key, item in value.items()]
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    if value is None or isinstance(value, str | int | float | bool):
        return value
    raise TypeError(f"{type(value).__name__} cannot be part of a key")
