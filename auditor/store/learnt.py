"""What all frames in the store tell together: clipping levels, and where long exposures are hot."""

from __future__ import annotations

import sqlite3
from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

from auditor.model.arrays import U32
from auditor.model.clip_evidence import LevelKey
from auditor.model.facts import FileFacts
from auditor.model.measures import version_of
from auditor.store.codec import CannotDecode
from auditor.store.database import checksum
from auditor.store.frames import fetch_values
from auditor.store.packing import storable

MOST = 101
"""A median of so many is as good as one of all, and odd counts have a middle."""

# One file may be measured under several settings: it counts once, as it was measured last.
_MEASURED = """EXISTS (SELECT 1 FROM measure WHERE measure.frame_id = pile_up.frame_id
        AND name = 'planes' AND version = ?)
    AND NOT EXISTS (SELECT 1 FROM frame AS own
        JOIN frame AS later ON later.content_key = own.content_key AND later.id > own.id
        JOIN measure ON measure.frame_id = later.id AND name = 'planes' AND version = ?
        WHERE own.id = pile_up.frame_id)"""

_OF_KEY = f"""SELECT make, model, serial, iso, bit_depth, plane, level_dn, from_dn, checksum
    FROM pile_up WHERE make = ? AND model = ? AND serial = ? AND iso = ? AND bit_depth = ?
        AND plane = ? AND {_MEASURED}
    ORDER BY frame_id DESC LIMIT {MOST}"""

Ask = Callable[[str, Sequence[Any]], list[Any]]
"""Puts a question to the database and returns all rows."""


class StoredLevels(Mapping[LevelKey, tuple[tuple[float, float], ...]]):
    """Pile-ups as (level, lower edge) in DN, newest first, fetched by key when asked for."""

    def __init__(self, ask: Ask) -> None:
        self._ask = ask
        self._fetched: dict[LevelKey, tuple[tuple[float, float], ...]] = {}

    def __getitem__(self, key: LevelKey) -> tuple[tuple[float, float], ...]:
        if key not in self._fetched:
            texts = map(storable, key[:3])
            rows = self._ask(_OF_KEY, (*texts, *key[3:], *_versions()))
            self._fetched[key] = tuple(row[6:8] for row in rows if checksum(*row[:8]) == row[8])
        if not self._fetched[key]:
            raise KeyError(key)
        return self._fetched[key]

    def __iter__(self) -> Iterator[LevelKey]:
        return iter(
            self._ask(
                f"""SELECT DISTINCT make, model, serial, iso, bit_depth, plane FROM pile_up
                WHERE {_MEASURED} ORDER BY 1, 2, 3, 4, 5, 6""",
                _versions(),
            )
        )

    def __len__(self) -> int:
        return sum(1 for _ in self)


def _versions() -> tuple[int | None, int | None]:
    """Return what the two marks of :data:`_MEASURED` stand for."""
    return version_of("planes"), version_of("planes")


NOON = 12

HotFrames = dict[str, list[tuple[int, U32]]]
"""Body to (number of its shoot, rows and columns of hot pixels) of each frame."""

_NEWEST = "SELECT content_key, settings_key, max(id) FROM frame GROUP BY content_key"


def hot_places(connection: sqlite3.Connection, least_s: float) -> HotFrames:
    """Return the hot pixels of all exposures of at least ``least_s`` seconds, by body.

    Shoots are told apart by the day of capture, which runs from noon to noon, so that a night is
    one shoot. Frames without a clock, and rows that cannot be read, are left out.
    """
    found: HotFrames = defaultdict(list)
    for *key, _ in connection.execute(_NEWEST).fetchall():
        try:
            facts: FileFacts = fetch_values(connection, tuple(key), ["file"])["facts"]
            moment = facts.moment
            if moment is not None and (facts.exposure.time_s or 0.0) >= least_s:
                day = moment.toordinal() - (moment.hour < NOON)
                hot = fetch_values(connection, tuple(key), ["hot"])["mosaic.hot"]
                found[facts.camera.body].append((day, hot.positions))
        except CannotDecode:
            continue
    return dict(found)
