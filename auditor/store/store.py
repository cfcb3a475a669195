"""The store: what was measured, and past shoots, in one SQLite file that one process writes."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import Any

import platformdirs

from auditor.clipping.settle import LevelHistory
from auditor.model.audit import Audit
from auditor.model.errors import FrameFailure, StoreRefused
from auditor.model.facts import CardFile, FileFacts, FileLook
from auditor.model.measurement import FrameMeasurement
from auditor.model.settings import MeasureSettings
from auditor.store.archive import Taken, import_store
from auditor.store.checks import problems
from auditor.store.codec import CannotDecode, Record
from auditor.store.contents import content_at, contents_like, note_content
from auditor.store.export import export_store
from auditor.store.file import StoreFile
from auditor.store.gallery import StoreGallery
from auditor.store.hot import HotFrames, hot_places
from auditor.store.levels import StoredLevels
from auditor.store.measurements import FactsAlone, Known, fetch_as, find, forget, keep
from auditor.store.packing import ALL_PARTS, PackedMeasurement, pack_measurement
from auditor.store.reading import check_not_empty, may_be_written
from auditor.store.recall import conclusion_key, recall, remember
from auditor.store.shoots import Saved, frame_key, load, other_shoot_ids, save, shoot_ids


def default_path() -> Path:
    """Return where the store lies unless told otherwise: in the user's data folder."""
    return platformdirs.user_data_path("exposure-auditor", appauthor=False) / "store.sqlite"


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
        check_not_empty(path)
        return cls(path, reading=not may_be_written(path))

    @classmethod
    def temporary(cls) -> Store:
        """Open a store that is thrown away when closed."""
        return cls(None)

    # Measurements

    def known(self, content_key: str, settings: MeasureSettings) -> Known:
        """Return "measured", the failure kept, or None, without reading the measurement."""
        found = self._do(lambda connection: find(connection, content_key, settings))
        return "measured" if isinstance(found, int) else found

    def get(
        self,
        content_key: str,
        settings: MeasureSettings,
        *,
        parts: frozenset[str] = ALL_PARTS,
    ) -> FrameMeasurement | FrameFailure | None:
        """Return what is kept of a file; None where there is nothing that still holds.

        Parameters
        ----------
        content_key : str
        settings : MeasureSettings
            Only rows measured under the same settings (limits aside) are found.
        parts : frozenset of str
            Of "rest", "histograms", "maps" and "pictures"; arrays and bytes of parts left out
            come back empty, and quickly.
        """
        return self._fetch(FrameMeasurement, content_key, settings, parts)

    def facts(self, content_key: str, settings: MeasureSettings) -> FileFacts | None:
        """Return only what a measured file says of itself; None where it is not measured."""
        found = self._fetch(FactsAlone, content_key, settings, frozenset())
        return found.facts if isinstance(found, FactsAlone) else None

    def _fetch(
        self, kind: type[Record], content_key: str, settings: MeasureSettings, parts: frozenset[str]
    ) -> Record | FrameFailure | None:
        def fetch_found(connection: sqlite3.Connection) -> Record | FrameFailure | None:
            found = find(connection, content_key, settings)
            if not isinstance(found, int):
                return found
            try:
                return fetch_as(kind, connection, found, parts)
            except CannotDecode as error:
                forget(connection, found)
                self.warnings.append(
                    f"{self.path}: one measurement was damaged ({error}) and was dropped; its "
                    "file is measured again at the next audit."
                )
                return None

        return self._do(fetch_found)

    def put(
        self,
        content_key: str,
        settings: MeasureSettings,
        result: FrameMeasurement | PackedMeasurement | FrameFailure,
    ) -> None:
        """Keep what came of a file; failures that may pass by themselves are not kept.

        Parameters
        ----------
        result : FrameMeasurement, PackedMeasurement or FrameFailure
            Packed ahead, by :func:`~auditor.store.packing.pack_measurement` in a worker,
            it costs this process a fraction of the time.

        Raises
        ------
        CannotWrite
            The disk is full.
        StoreRefused
            The store is locked or cannot be written any more.
        """
        ready = pack_measurement(result) if isinstance(result, FrameMeasurement) else result
        self._do(lambda connection: keep(connection, content_key, settings, ready))

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

    def gallery(self, content_keys: Mapping[str, str], settings: MeasureSettings) -> StoreGallery:
        """Return a gallery over frames, given the content key of each frame's id."""

        def fetch_frame(frame_id: str, parts: frozenset[str]) -> FrameMeasurement:
            told = len(self.warnings)
            found = self.get(content_keys[frame_id], settings, parts=parts)
            if isinstance(found, FrameMeasurement):
                return found
            if len(self.warnings) > told:
                raise StoreRefused(f"{self.warnings[-1]} Run the same command again.")
            raise KeyError(frame_id)

        return StoreGallery(fetch_frame)

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

    def other_shoots(self, files: Iterable[CardFile], settings: MeasureSettings) -> Iterator[Audit]:
        """Yield past audits but the ones of these very frames.

        A shoot must not learn from itself, or a second audit of it would say something else than
        the first.
        """
        keys = self._frame_keys(files, settings)
        return self._load_shoots(self._do(lambda connection: other_shoot_ids(connection, keys)))

    def concluded(
        self,
        inputs: Sequence[Any],
        files: Sequence[CardFile],
        settings: MeasureSettings,
        conclude: Callable[[], Audit],
    ) -> Audit:
        """Return what was concluded before, if nothing has changed since; else conclude and keep.

        Parameters
        ----------
        inputs : sequence
            All that the conclusions depend on beside the store and the program: records, texts,
            numbers, and mappings and sequences of these.
        files : sequence of CardFile
            The frames of the shoot.
        conclude : callable
            Makes the audit; its ``made_at`` and ``notes`` are then the caller's to renew.
        """
        keys = self._frame_keys(files, settings)

        def key_now(connection: sqlite3.Connection) -> str:
            return conclusion_key(
                connection, [*inputs, list(files)], other_shoot_ids(connection, keys)
            )

        key = self._do(key_now)
        audit = self._do(lambda connection: recall(connection, key))
        if audit is None:
            audit = conclude()
            self._do(lambda connection: remember(connection, key, audit))
        return audit

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
                self.warnings.append(
                    f"{self.path}: past shoot {row_id} cannot be read ({error}) and is left out."
                )

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
