"""The store: what was measured, and past shoots, in one SQLite file that one process writes."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache, partial
from pathlib import Path
from typing import Any

from auditor.clipping.settle import LevelHistory
from auditor.model.audit import Audit
from auditor.model.errors import CannotWrite, FrameFailure, StoreRefused
from auditor.model.facts import CardFile, FileFacts, FileLook
from auditor.model.measurement import FrameMeasurement
from auditor.model.settings import MeasureSettings
from auditor.model.shoot import MeasurementLost
from auditor.store.codec import CannotDecode
from auditor.store.contents import content_at, contents_like, note_content
from auditor.store.database import default_path, may_be_written
from auditor.store.exchange import Taken, export_store, import_store, problems
from auditor.store.file import StoreFile
from auditor.store.frames import (
    StoreMeasurementSource,
    drop_unreadable,
    fetch,
    fetch_values,
    keep,
    key_of,
    missing,
)
from auditor.store.learnt import HotFrames, StoredLevels, hot_places
from auditor.store.packing import PackedMeasures, pack_measurement
from auditor.store.shelf import PictureShelf
from auditor.store.shoots import (
    EveningFace,
    Saved,
    conclusion_key,
    evening_faces,
    frame_key,
    load,
    note_evenings,
    other_shoot_ids,
    recall,
    remember,
    save,
    shoot_ids,
    shoot_with,
)
from auditor.words import store as words


class Store(StoreFile):
    """Measurements keyed by content, and past audits. Use it in a ``with`` block.

    Every ``put`` is whole on its own: a process that is killed loses nothing that was put. One
    process at a time should write; a second one waits its turn. A damaged file is set aside
    under another name, what can be read of it is saved, and :attr:`warnings` tells of it.

    Parameters
    ----------
    path : Path
        The store's file, made where it is missing. :meth:`open` and :meth:`temporary` are the
        usual ways in.
    """

    @classmethod
    def open(cls, path: Path | None = None) -> Store:
        """Open the store at ``path``, or the user's own.

        Raises
        ------
        StoreRefused
            It is newer than this program, locked, not writable, or no store at all.
        """
        return cls(path or default_path())

    @classmethod
    def existing(cls, path: Path) -> Store:
        """Open a store that is there, to ask it; where it cannot be written it is only read.

        Raises
        ------
        StoreRefused
            It is empty, newer than this program, locked, no store at all, or cannot be read; or
            it is damaged where nothing can be written.
        """
        if os.path.isfile(path) and os.path.getsize(path) == 0:  # noqa: PTH113, PTH202 - any name
            raise StoreRefused(words.EMPTY.format(path=path, advice=words.NAME_ANOTHER))
        return cls(path, reading=not may_be_written(path))

    @classmethod
    def temporary(cls) -> Store:
        """Open a store that is thrown away when closed."""
        return cls(None)

    # Measurements

    def missing(self, content_key: str, settings: MeasureSettings) -> frozenset[str] | FrameFailure:
        """Return the names of the measures a file lacks, or the failure kept; reads none of them.

        Empty: all is there. Only what was measured under the same settings (limits aside) counts.
        """
        return self._do(lambda connection: missing(connection, content_key, settings))

    def get(
        self, content_key: str, settings: MeasureSettings, *, maps: bool = True
    ) -> FrameMeasurement | FrameFailure | None:
        """Return what is kept of a file; None where a measure is missing or cannot be read.

        What cannot be read is dropped, and told in :attr:`warnings`.

        Parameters
        ----------
        maps : bool
            Without them, and without the pictures, it comes quickly.
        """
        lacking = self.missing(content_key, settings)
        if lacking:
            return lacking if isinstance(lacking, FrameFailure) else None
        try:
            return self._do(lambda connection: fetch(connection, content_key, settings, maps=maps))
        except CannotDecode:
            self._drop_unreadable(content_key, settings)
            return None

    def _drop_unreadable(self, content_key: str, settings: MeasureSettings) -> None:
        key = key_of(content_key, settings)
        lost = self._do(lambda connection: drop_unreadable(connection, key))
        if lost:
            told = {"path": self.path, "count": len(lost), "names": ", ".join(lost)}
            self.warnings.append(words.MEASURES_LOST.format(**told))

    def facts(self, content_key: str, settings: MeasureSettings) -> FileFacts | None:
        """Return only what a measured file says of itself; None where it is not measured."""

        def get_facts(connection: sqlite3.Connection) -> FileFacts | None:
            try:
                values = fetch_values(connection, key_of(content_key, settings), ["file"])
            except CannotDecode:
                return None
            facts: FileFacts = values["facts"]
            return facts

        return self._do(get_facts)

    def put(
        self,
        content_key: str,
        settings: MeasureSettings,
        result: FrameMeasurement | PackedMeasures | FrameFailure,
    ) -> None:
        """Keep what came of a file; failures that may pass by themselves are not kept.

        Parameters
        ----------
        result : FrameMeasurement, PackedMeasures or FrameFailure
            Some measures, packed in a worker, take their places beside those that are there.

        Raises
        ------
        CannotWrite
            The disk is full.
        StoreRefused
            The store is locked or cannot be written any more.
        """
        ready = pack_measurement(result) if isinstance(result, FrameMeasurement) else result
        self._do(lambda connection: keep(connection, content_key, settings, ready))

    @property
    def shelf(self) -> PictureShelf:
        """Large pictures of what was measured."""
        return PictureShelf.beside(self.path)

    # Who a file is

    def content_at(self, look: FileLook) -> str | None:
        """Return the digest of what was read in that very place, unchanged since; else None."""
        return self._do(lambda connection: content_at(connection, look))

    def contents_like(self, look: FileLook) -> list[str]:
        """Return the digests of all that was read with the same size and ends."""
        return self._do(lambda connection: contents_like(connection, look))

    def note_content(self, look: FileLook, digest: str) -> None:
        """Keep the digest of what was just read in a place."""
        self._do(lambda connection: note_content(connection, look, digest))

    def commit(self) -> None:
        """Bring everything that was put onto the medium, safe from a loss of power too."""
        self._do(lambda connection: connection.execute("PRAGMA wal_checkpoint(PASSIVE)").fetchall())

    def measurement_source(
        self, content_keys: Mapping[str, str], settings: MeasureSettings
    ) -> StoreMeasurementSource:
        """Return a source over measured frames, given the content key of each frame's id.

        It raises :class:`MeasurementLost` where a measurement that was there cannot be read.
        """

        def heal() -> None:
            for key in content_keys.values():  # where one is lost, many may be
                self._drop_unreadable(key, settings)

        def apart(frame_ids: Collection[str]) -> StoreApart:
            own = {frame_id: content_keys[frame_id] for frame_id in frame_ids}
            return StoreApart(self.path.absolute(), own, settings)

        return StoreMeasurementSource(
            lambda frame_id, maps: self.get(content_keys[frame_id], settings, maps=maps),
            heal,
            apart,
        )

    # What many frames tell

    def level_history(self) -> LevelHistory:
        """Return the pile-ups of all frames in the store, fetched as they are asked for."""

        def ask(question: str, values: Sequence[Any]) -> list[Any]:
            return self._do(lambda connection: connection.execute(question, values).fetchall())

        return LevelHistory(StoredLevels(ask))

    def hot_places(self, least_s: float) -> HotFrames:
        """Return body to (shoot, hot pixels) of each exposure of at least so many seconds.

        Shoots are told apart by the day of capture, from noon to noon.
        """
        return self._do(lambda connection: hot_places(connection, least_s))

    def save_shoot(self, audit: Audit) -> Saved:
        """Keep an audit for the history, in place of an earlier one of the same frames."""
        return self._do(lambda connection: save(connection, audit))

    def shoots(self) -> Iterator[Audit]:
        """Yield past audits, the earliest first; their histograms and preview counts are empty."""
        return self._load_shoots(self._do(shoot_ids))

    def note_evenings(self, audit: Audit, faces: Sequence[EveningFace]) -> None:
        """Keep what stands for the evenings of a shoot: where its reports lie, a picture."""
        self._do(lambda connection: note_evenings(connection, audit, faces))

    def evening_faces(self) -> list[EveningFace]:
        """Return what stands for each evening of each shoot, the latest audit last."""
        return self._do(evening_faces)

    def last_shoot(self) -> Audit | None:
        """Return the audit that was saved last; None where there is none."""
        latest = self._do(lambda connection: shoot_ids(connection, latest=True))
        return next(self._load_shoots(latest), None)

    def shoot_with(self, file: str, facts: FileFacts) -> Audit | None:
        """Return the past audit that holds a frame, by its file's name and what the file says."""
        key = frame_key(file, facts.captured_at, facts.camera)
        found = self._do(lambda connection: shoot_with(connection, key))
        return None if found is None else next(self._load_shoots([found]), None)

    def other_shoots(self, files: Iterable[CardFile], settings: MeasureSettings) -> Iterator[Audit]:
        """Yield past audits but the ones of these very frames.

        A shoot must not learn from itself, or a second audit of it would say something else than
        the first.
        """
        keys = self._frame_keys(files, settings)
        return self._load_shoots(self._do(lambda connection: other_shoot_ids(connection, keys)))

    def conclusion_key(
        self, inputs: Sequence[Any], files: Sequence[CardFile], settings: MeasureSettings
    ) -> str:
        """Return the key of what is concluded of a shoot: another one as soon as anything changes.

        Parameters
        ----------
        inputs : sequence
            All that the conclusions depend on beside the store and the program: records, texts,
            numbers, and mappings and sequences of these.
        files : sequence of CardFile
            The frames of the shoot.
        """
        keys = self._frame_keys(files, settings)
        return self._do(
            lambda connection: conclusion_key(
                connection, [*inputs, list(files)], other_shoot_ids(connection, keys)
            )
        )

    def recalled(self, key: str) -> Audit | None:
        """Return what was concluded under a key; its moment and notes are the caller's to renew."""
        return self._do(lambda connection: recall(connection, key))

    def remember(self, key: str, audit: Audit) -> None:
        """Keep what was concluded under a key; where that cannot be, it would have saved time only.

        That is told in :attr:`warnings`.
        """
        try:
            self._do(lambda connection: remember(connection, key, audit))
        except (CannotWrite, StoreRefused) as error:
            self.warnings.append(str(error))

    def _frame_keys(self, files: Iterable[CardFile], settings: MeasureSettings) -> set[str]:
        told = [(file.file, self.facts(file.content_key, settings)) for file in files]
        return {
            frame_key(file, facts.captured_at, facts.camera)
            for file, facts in told
            if facts is not None
        }

    def _load_shoots(self, row_ids: list[int]) -> Iterator[Audit]:
        for row_id in row_ids:
            try:
                yield self._do(partial(load, row_id=row_id))
            except CannotDecode as error:
                told = words.SHOOT_LEFT_OUT.format(path=self.path, row=row_id, why=error)
                self.warnings.append(told)

    # The whole

    def verify(self) -> list[str]:
        """Read the whole store and tell in sentences what is wrong; empty when all is well."""
        return problems(self._connection)

    def export(self, path: Path) -> None:
        """Write the whole store into one file.

        Raises
        ------
        CannotWrite
            It cannot be written, or what is there is no store or holds what this one lacks.
        """
        self._do(lambda connection: export_store(connection, self.path, path))

    def import_(self, path: Path) -> Taken:
        """Take in what another store holds and this one does not.

        Raises
        ------
        StoreRefused
            There is no such store, or it is newer than this program, or damaged.
        """
        return self._do(lambda connection: import_store(connection, path))


@dataclass(frozen=True, slots=True)
class StoreApart:
    """Fetches some frames from a store that another process has open; only reads.

    Parameters
    ----------
    path : Path
    content_keys : mapping of frame id to str
    settings : MeasureSettings
    """

    path: Path
    content_keys: Mapping[str, str]
    settings: MeasureSettings

    def measurement(self, frame_id: str) -> FrameMeasurement:
        """Return the measurement of a frame."""
        return self._fetched(frame_id, maps=True)

    def without_maps(self, frame_id: str) -> FrameMeasurement:
        """Return the measurement of a frame without its maps."""
        return self._fetched(frame_id, maps=False)

    def _fetched(self, frame_id: str, *, maps: bool) -> FrameMeasurement:
        found = _read(self.path).get(self.content_keys[frame_id], self.settings, maps=maps)
        if not isinstance(found, FrameMeasurement):
            raise MeasurementLost(frame_id)
        return found


@lru_cache(maxsize=1)
def _read(path: Path) -> Store:
    """Open a store to read it, once in a process."""
    return Store(path, reading=True)
