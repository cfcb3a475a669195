"""Past audits, each shoot once: what the history is told from; and the last conclusions.

Facts are stored and opinions derived. Conclusions that are kept only save deriving the very same
opinions twice: their key holds everything they depend on, the files, the failures, the settings,
what the history says, and the program itself, down to the time at which each of its modules was
written.
"""

from __future__ import annotations

import hashlib
import sqlite3
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Any

from auditor.files.program import program_digest
from auditor.model.audit import Audit, StopHistogram
from auditor.model.codes import FrameStatus
from auditor.model.facts import CameraFacts
from auditor.model.measures import MEASURES
from auditor.store.codec import CannotDecode, decode_deflated, encode, encode_deflated
from auditor.store.database import MOST_BYTES, checksum, now_text, transaction
from auditor.store.packing import storable

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


SAME_SHOOT_SHARE = 0.5


class Saved(StrEnum):
    """What became of an audit handed to the history."""

    ADDED = "added"
    REPLACED = "replaced"
    ALREADY = "already part of a larger shoot"
    EMPTY = "holds no measured frame"


def save(connection: sqlite3.Connection, audit: Audit) -> Saved:
    """Keep an audit so that every frame counts once in the history.

    A past shoot of which half or more is in this audit is replaced by it: the card was audited
    again, perhaps with more frames on it. An audit of which half or more lies in a larger past
    shoot is a second look at a part of it, and is not kept.
    """
    keys = _frame_keys(audit)
    if not keys:
        return Saved.EMPTY
    bare = []  # histograms and the preview's counts are most of an audit, and told by no history
    for frame in audit.frames:
        channels = [
            replace(one, histogram=StopHistogram(one.histogram.first_stop, one.histogram.step, ()))
            for one in frame.channels
        ]
        preview = None if frame.preview is None else replace(frame.preview, counts={})
        bare.append(replace(frame, preview=preview, channels=tuple(channels)))
    content = encode_deflated(replace(audit, frames=tuple(bare)))
    first_at = min((frame.captured_at for frame in audit.frames if frame.captured_at), default="")
    with transaction(connection):
        old, larger = _same_shoots(connection, keys)
        if not old and larger:
            return Saved.ALREADY
        connection.executemany("DELETE FROM shoot WHERE id = ?", [(shoot,) for shoot in old])
        inserted = connection.execute(
            "INSERT INTO shoot (saved_at, first_at, checksum, audit) VALUES (?, ?, ?, ?)",
            (now_text(), storable(first_at), checksum(content), content),
        )
        connection.executemany(
            "INSERT INTO shoot_frame (frame_key, shoot_id) VALUES (?, ?)",
            [(key, inserted.lastrowid) for key in sorted(keys)],
        )
    return Saved.REPLACED if old else Saved.ADDED


def _same_shoots(connection: sqlite3.Connection, keys: set[str]) -> tuple[list[int], list[int]]:
    """Return the past shoots that mostly lie in these frames, and those they mostly lie in."""
    shared: Counter[int] = Counter()
    for key in keys:
        found = connection.execute("SELECT shoot_id FROM shoot_frame WHERE frame_key = ?", (key,))
        shared.update(shoot for (shoot,) in found)
    old, larger = [], []
    for shoot, both in shared.items():
        count = "SELECT count(*) FROM shoot_frame WHERE shoot_id = ?"
        if both >= SAME_SHOOT_SHARE * int(connection.execute(count, (shoot,)).fetchone()[0]):
            old.append(shoot)
        if both >= SAME_SHOOT_SHARE * len(keys):
            larger.append(shoot)
    return old, larger


EVENINGS = """CREATE TABLE IF NOT EXISTS evening (
    shoot_id INTEGER NOT NULL REFERENCES shoot ON DELETE CASCADE, day TEXT NOT NULL,
    folder TEXT NOT NULL, picture_of TEXT NOT NULL, picture BLOB NOT NULL,
    PRIMARY KEY (shoot_id, day))"""
"""Made when it is first needed: a store of this version may be without it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class EveningFace:
    """One evening of a shoot: the folder of its reports, and a picture with its file's name."""

    day: str
    folder: str = ""
    picture_of: str = ""
    picture: bytes = b""


def note_evenings(
    connection: sqlite3.Connection, audit: Audit, faces: Iterable[EveningFace]
) -> None:
    """Keep what stands for the evenings of a shoot; its next audit forgets it."""
    old, _larger = _same_shoots(connection, _frame_keys(audit))
    with transaction(connection):
        connection.execute(EVENINGS)
        connection.executemany(
            "INSERT OR REPLACE INTO evening VALUES (?, ?, ?, ?, ?)",
            [
                (shoot, face.day, storable(face.folder), storable(face.picture_of), face.picture)
                for shoot in old
                for face in faces
            ],
        )


def evening_faces(connection: sqlite3.Connection, shoot: int | None = None) -> list[EveningFace]:
    """Return what stands for each evening of each shoot, or of one, the latest audit last."""
    if not connection.execute("SELECT 1 FROM sqlite_master WHERE name = 'evening'").fetchone():
        return []
    rows = connection.execute(
        "SELECT day, folder, picture_of, picture FROM evening JOIN shoot ON shoot.id = shoot_id "
        "WHERE shoot_id = coalesce(?, shoot_id) ORDER BY saved_at",
        (shoot,),
    )
    return [
        EveningFace(
            day=str(day), folder=str(folder), picture_of=str(name),
            picture=picture if isinstance(picture, bytes) else b"",
        )
        for day, folder, name, picture in rows
    ]  # fmt: skip


def other_shoot_ids(connection: sqlite3.Connection, keys: set[str]) -> list[int]:
    """Return the rows of all shoots but the one that these frames are, the earliest first."""
    old, larger = _same_shoots(connection, keys)
    return [row_id for row_id in shoot_ids(connection) if row_id not in {*old, *larger}]


def shoot_with(connection: sqlite3.Connection, key: str) -> int | None:
    """Return the row of the past shoot that holds a frame, the latest saved of several."""
    row = connection.execute(
        """SELECT shoot.id FROM shoot JOIN shoot_frame ON shoot.id = shoot_id
        WHERE frame_key = ? ORDER BY saved_at DESC, shoot.id DESC LIMIT 1""",
        (key,),
    ).fetchone()
    return None if row is None else int(row[0])


def shoot_ids(connection: sqlite3.Connection, *, latest: bool = False) -> list[int]:
    """Return the rows of all shoots, the earliest first; ``latest``: the one saved last only."""
    order = "saved_at DESC, id DESC LIMIT 1" if latest else "first_at, saved_at, id"
    rows = connection.execute(f"SELECT id FROM shoot ORDER BY {order}")
    return [int(row_id) for (row_id,) in rows]


def load(connection: sqlite3.Connection, row_id: int) -> Audit:
    """Read one past audit; its histograms and preview counts are empty.

    Raises
    ------
    CannotDecode
        The row was changed by something else than this program.
    """
    row = connection.execute("SELECT audit, checksum FROM shoot WHERE id = ?", (row_id,)).fetchone()
    if row is None:
        raise CannotDecode("it is gone")
    content, wanted = row
    if not isinstance(content, bytes) or checksum(content) != wanted:
        raise CannotDecode("it is not what was written")
    return decode_deflated(Audit, content)


def is_there(connection: sqlite3.Connection, audit: Audit) -> bool:
    """Tell whether all frames of an audit are in past shoots already, whoever saved them."""
    one = "SELECT 1 FROM shoot_frame WHERE frame_key = ? LIMIT 1"
    return all(connection.execute(one, (key,)).fetchone() for key in _frame_keys(audit))


def _frame_keys(audit: Audit) -> set[str]:
    return {
        frame_key(frame.file, frame.captured_at, frame.camera)
        for frame in audit.frames
        if frame.status == FrameStatus.MEASURED
    }


def frame_key(file: str, captured_at: str | None, camera: CameraFacts) -> str:
    """Tell a frame wherever its card is mounted: by name, moment and body, not by path."""
    name = file.rpartition("/")[2]
    parts = (name, captured_at, camera.make, camera.model, camera.serial)
    return hashlib.sha256("\0".join(storable(part) for part in parts).encode()).hexdigest()[:32]
