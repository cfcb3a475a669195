"""Where long exposures were hot, read without the heavy parts of their measurements."""

from __future__ import annotations

import sqlite3
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass

from auditor.model.arrays import U32
from auditor.model.facts import FileFacts
from auditor.model.measurement import MEASUREMENT_VERSION, HotPixels
from auditor.store.codec import REST, CannotDecode
from auditor.store.measurements import fetch_as

NOON = 12

HotFrames = dict[str, list[tuple[int, U32]]]
"""Body to (number of its shoot, rows and columns of hot pixels) of each frame."""

# One file may be measured under several settings: it counts once.
_NEWEST = """SELECT max(id) FROM measurement WHERE failure_code IS NULL AND version = ?
    GROUP BY content_key"""


@dataclass(frozen=True, slots=True, eq=False)
class _Mosaic:
    hot: HotPixels


@dataclass(frozen=True, slots=True, eq=False)
class _Frame:
    """So much of a measurement as is decoded here."""

    facts: FileFacts
    mosaic: _Mosaic


def hot_places(connection: sqlite3.Connection, least_s: float) -> HotFrames:
    """Return the hot pixels of all exposures of at least ``least_s`` seconds, by body.

    Shoots are told apart by the day of capture, which runs from noon to noon, so that a night is
    one shoot. Frames without a clock, and rows that cannot be read, are left out.
    """
    found: HotFrames = defaultdict(list)
    for (row_id,) in connection.execute(_NEWEST, (MEASUREMENT_VERSION,)).fetchall():
        for frame in _long_frame(connection, row_id, least_s):
            day = _day(frame.facts)
            if day is not None:
                found[frame.facts.camera.body].append((day, frame.mosaic.hot.positions))
    return dict(found)


def _long_frame(connection: sqlite3.Connection, row_id: int, least_s: float) -> Iterator[_Frame]:
    """Yield the frame with its hot pixels when it is long enough; the facts are read first."""
    try:
        told = fetch_as(_Frame, connection, row_id, frozenset())
        if (told.facts.exposure.time_s or 0.0) >= least_s:
            yield fetch_as(_Frame, connection, row_id, frozenset({REST}))
    except CannotDecode:
        return


def _day(facts: FileFacts) -> int | None:
    moment = facts.moment
    return None if moment is None else moment.toordinal() - (moment.hour < NOON)
