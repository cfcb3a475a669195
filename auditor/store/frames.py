"""Measures and failures of files, by content and measuring settings; each measure a row.

They are fetched one frame at a time, by the id of the frame.
"""

from __future__ import annotations

import sqlite3
from collections import OrderedDict
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from contextlib import suppress
from typing import Any

import numpy as np

from auditor.model.errors import FrameFailure
from auditor.model.measurement import FrameMeasurement, Pictures, TileMaps
from auditor.model.measures import MEASURES, all_names, measurement_of, record_kind, version_of
from auditor.model.settings import MeasureSettings
from auditor.model.shoot import MeasurementLost, MeasurementSource
from auditor.store.codec import CannotDecode, decode
from auditor.store.contents import OF_THE_CONTENT, believed, failure_text, settings_key
from auditor.store.database import checksum, transaction
from auditor.store.packing import PackedMeasures, PileUpRow

FAILURE = "failure"
"""Name of the row that stands in place of all measures where there could be none."""

HEAVY = frozenset({"tiles", "detail", "pictures", "patches"})
"""Measures that settling over a shoot can do without; most of the time of reading one."""

_NO_MAP = np.zeros((0, 0, 0), np.float32)
_EMPTY = {
    "mosaic.maps": TileMaps(
        tile_px=1,
        mean_dn=_NO_MAP,
        max_dn=_NO_MAP.astype(np.uint16),
        over_share=_NO_MAP,
        any_over_share=_NO_MAP.reshape(0, 0),
        all_over_share=_NO_MAP.reshape(0, 0),
        detail=_NO_MAP.reshape(0, 0),
    ),
    "mosaic.sharpness": None,
    "pictures": Pictures(b""),
    "patches": None,
}

Key = tuple[str, str]
"""Content and measuring settings of a file."""

Row = tuple[str, int, int, bytes]
"""Name, version, checksum and record of a measure."""

_ROWS = """SELECT measure.name, measure.version, measure.checksum, measure.record
    FROM measure JOIN frame ON frame.id = frame_id WHERE content_key = ? AND settings_key = ?"""


def key_of(content_key: str, settings: MeasureSettings) -> Key:
    """Return what a file's rows lie under."""
    return content_key, settings_key(settings)


def missing(
    connection: sqlite3.Connection, content_key: str, settings: MeasureSettings
) -> frozenset[str] | FrameFailure:
    """Return the measures that a file lacks, in today's versions; or the failure kept of it.

    A failure that may not come again counts as absent.
    """
    key = key_of(content_key, settings)
    there = {}
    for name, version, wanted, record in connection.execute(
        """SELECT name, version, measure.checksum, iif(name = 'failure', record, NULL)
        FROM measure JOIN frame ON frame.id = frame_id
        WHERE content_key = ? AND settings_key = ?""",
        key,
    ):
        if name == FAILURE:
            with suppress(CannotDecode, ValueError, TypeError):
                text = _checked(key, (name, version, wanted, record)).decode()
                if (failure := believed(text)) is not None:
                    return failure
        there[name] = version
    return frozenset(
        measure.name for measure in MEASURES if there.get(measure.name) != measure.version
    )


def fetch(
    connection: sqlite3.Connection,
    content_key: str,
    settings: MeasureSettings,
    *,
    maps: bool = True,
) -> FrameMeasurement:
    """Fetch the measurement of a file, whole or with its maps and pictures empty.

    Raises
    ------
    CannotDecode
        A measure is missing, or its row cannot be read.
    """
    names = all_names() if maps else all_names() - HEAVY
    values = fetch_values(connection, key_of(content_key, settings), names)
    return measurement_of(values if maps else {**_EMPTY, **values})


def fetch_values(connection: sqlite3.Connection, key: Key, names: Iterable[str]) -> dict[str, Any]:
    """Fetch the values of some measures of a file, by field.

    Raises
    ------
    CannotDecode
        A measure is missing, or its row cannot be read.
    """
    wanted = frozenset(names)
    marks = ",".join("?" * len(wanted))
    rows = connection.execute(f"{_ROWS} AND name IN ({marks})", (*key, *sorted(wanted)))
    contents = {row[0]: _checked(key, row) for row in rows if row[1] == version_of(row[0])}
    if wanted - contents.keys():
        raise CannotDecode(f"no {' and no '.join(sorted(wanted - contents.keys()))}")
    values: dict[str, Any] = {}
    for measure in MEASURES:
        if measure.name in wanted:
            record: Any = decode(record_kind(measure.fields), contents[measure.name])
            values.update(zip(measure.fields, record, strict=True))
    return values


def _checked(key: Key, row: tuple[Any, ...]) -> bytes:
    """Return the record of a row; CannotDecode where it is not the one that was kept there."""
    name, version, wanted, record = row
    if not isinstance(record, bytes) or checksum(*key, name, version, record) != wanted:
        raise CannotDecode(f"{name} is not what was written")
    return record


def drop_unreadable(connection: sqlite3.Connection, key: Key) -> list[str]:
    """Drop the rows of a file that cannot be read, so that they are measured again; say which."""
    lost = list(unreadable(connection, key))
    for name in lost:
        connection.execute(
            """DELETE FROM measure WHERE name IS ? AND frame_id IN
            (SELECT id FROM frame WHERE content_key = ? AND settings_key = ?)""",
            (name, *key),
        )
    return lost


def unreadable(connection: sqlite3.Connection, key: Key) -> Iterator[str]:
    """Yield the names of a file's measures of today that are there and cannot be read."""
    names = [name for name, version, _, _ in connection.execute(_ROWS, key).fetchall()
             if version == version_of(name)]  # fmt: skip
    for name in names:
        try:
            fetch_values(connection, key, [name])
        except CannotDecode:
            yield name


def keep(
    connection: sqlite3.Connection,
    content_key: str,
    settings: MeasureSettings,
    result: PackedMeasures | FrameFailure,
) -> None:
    """Keep what came of a file: each measure in place of its former self, others as they are.

    A failure takes the place of all. All is kept or nothing.
    """
    key = key_of(content_key, settings)
    if isinstance(result, FrameFailure):
        if result.kind not in OF_THE_CONTENT:
            return
        record = failure_text(result).encode()
        keep_rows(connection, key, [_row(key, FAILURE, record)], (), clear=True)
    else:
        rows = [_row(key, name, record) for name, record in result.records.items()]
        keep_rows(connection, key, rows, result.pile_ups)


def _row(key: Key, name: str, record: bytes) -> Row:
    version = version_of(name) or 0
    return name, version, checksum(*key, name, version, record), record


def keep_rows(
    connection: sqlite3.Connection,
    key: Key,
    rows: Sequence[Row],
    pile_ups: Iterable[PileUpRow],
    *,
    clear: bool = False,
) -> None:
    """Keep rows of a file, in place of those of these names."""
    with transaction(connection):
        connection.execute(
            "INSERT OR IGNORE INTO frame (content_key, settings_key) VALUES (?, ?)", key
        )
        (frame_id,) = connection.execute(
            "SELECT id FROM frame WHERE content_key = ? AND settings_key = ?", key
        ).fetchone()
        names = [row[0] for row in rows]
        if clear:
            connection.execute("DELETE FROM measure WHERE frame_id = ?", (frame_id,))
        connection.executemany(
            "DELETE FROM measure WHERE frame_id = ? AND name = ?",
            [(frame_id, name) for name in (FAILURE, *names)],
        )
        connection.executemany(
            """INSERT INTO measure (frame_id, name, version, checksum, record)
            VALUES (?, ?, ?, ?, ?)""",
            [(frame_id, *row) for row in rows],
        )
        if clear or "planes" in names:
            connection.execute("DELETE FROM pile_up WHERE frame_id = ?", (frame_id,))
            connection.executemany(
                "INSERT INTO pile_up VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
                [(frame_id, *row, checksum(*row)) for row in pile_ups],
            )


AT_HAND = 64
"""Frames kept decoded: about 100 MB at 45 megapixels, and more than one set-up holds."""


class StoreMeasurementSource:
    """A source that fetches from the store and keeps the frames last asked for.

    Parameters
    ----------
    get : callable
        Returns what is kept of a frame's id, whole or without its maps.
    heal : callable
        Is called where it is no measurement, before :class:`MeasurementLost` is raised.
    apart : callable
        Returns a source of some frames that may be sent to another process.
    at_hand : int
        How many frames to keep decoded.
    """

    def __init__(
        self,
        get: Callable[[str, bool], FrameMeasurement | FrameFailure | None],
        heal: Callable[[], object],
        apart: Callable[[Collection[str]], MeasurementSource | None] = lambda _ids: None,
        at_hand: int = AT_HAND,
    ) -> None:
        self._get, self._heal, self.apart = get, heal, apart
        self._room = max(1, at_hand)
        self._at_hand: OrderedDict[str, FrameMeasurement] = OrderedDict()

    def measurement(self, frame_id: str, *, maps: bool = True) -> FrameMeasurement:
        """Return the measurement of a frame; KeyError where it was not measured."""
        if frame_id in self._at_hand:
            self._at_hand.move_to_end(frame_id)
            return self._at_hand[frame_id]
        found = self._get(frame_id, maps)
        if not isinstance(found, FrameMeasurement):
            self._heal()
            raise MeasurementLost(frame_id)
        if maps:
            self._at_hand[frame_id] = found
            if len(self._at_hand) > self._room:
                self._at_hand.popitem(last=False)
        return found

    def without_maps(self, frame_id: str) -> FrameMeasurement:
        """Return a measurement whose maps and pictures are empty: a sixth of the time."""
        return self.measurement(frame_id, maps=False)
