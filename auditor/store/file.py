"""The store's file: opened, closed, and begun anew when it proves damaged."""

from __future__ import annotations

import sqlite3
import tempfile
from collections.abc import Callable
from pathlib import Path
from types import TracebackType
from typing import Self, TypeVar

from auditor.model.errors import AuditorError, CannotWrite, StoreFull, StoreRefused, StoreUnusable
from auditor.store.database import (
    NAME_ANOTHER,
    READING_ERRORS,
    Damaged,
    connect,
    connect_to_read,
    meaning_of,
    set_aside,
)
from auditor.store.exchange import salvage

Answer = TypeVar("Answer")


class StoreFile:
    """An open file of the store. Use it in a ``with`` block.

    Parameters
    ----------
    path : Path or None
        Made where it is missing; None for a file that is thrown away when closed.
    reading : bool
        The file is only read, and must be there.

    Attributes
    ----------
    warnings : list of str
        What went wrong without stopping the work, in sentences.
    """

    def __init__(self, path: Path | None, *, reading: bool = False) -> None:
        self._reading = reading
        self._folder: tempfile.TemporaryDirectory[str] | None = None
        if path is None:
            try:
                self._folder = tempfile.TemporaryDirectory(
                    prefix="exposure-auditor-", ignore_cleanup_errors=True
                )
            except OSError as error:
                raise CannotWrite(
                    "There is no room for what is measured: no temporary folder can be made "
                    f"({error.strerror}). Set TMPDIR to a folder that can be written."
                ) from error
            path = Path(self._folder.name) / "store.sqlite"
        self.path = path
        self.warnings: list[str] = []
        try:
            self._connection = (
                connect_to_read(path) if reading else connect(path, lasting=self._folder is None)
            )
        except Damaged as damage:
            self._connection = self._begin_anew(damage)
        except StoreRefused as error:
            if self._folder is None or not isinstance(error.__cause__, sqlite3.Error):
                raise
            self._folder.cleanup()
            raise self._meaning_of(error.__cause__) from error

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """Close the file; a temporary store is gone then."""
        self._connection.close()
        if self._folder is not None:
            self._folder.cleanup()

    def _do(self, work: Callable[[sqlite3.Connection], Answer]) -> Answer:
        """Do some work; when the file proves damaged, set it aside and do it on the new one."""
        anew = False
        while True:
            try:
                return work(self._connection)
            except READING_ERRORS as error:
                damage = self._meaning_of(error)
                if not isinstance(damage, Damaged):
                    raise damage from error
                if anew:
                    raise StoreUnusable(
                        f"{self.path}: the store is damaged, and so is the new one begun in its "
                        f"place ({damage}). Look after the disk, or name another file with --store."
                    ) from error
            self._connection.close()
            self._connection, anew = self._begin_anew(damage), True

    def _meaning_of(self, error: Exception) -> AuditorError | Damaged:
        meaning = meaning_of(error, self.path, reading=NAME_ANOTHER if self._reading else None)
        if self._folder is not None and isinstance(meaning, StoreRefused):
            full = isinstance(meaning, StoreFull)
            why = "the disk is full" if full else f"nothing can be written ({error})"
            return CannotWrite(
                f"{self.path.parent}: {why}, and without a store what is measured is "
                "put there for the while. Set TMPDIR to a folder that has room, or use --store."
            )
        return meaning

    def _begin_anew(self, damage: Damaged) -> sqlite3.Connection:
        if self._reading:
            raise StoreRefused(
                f"{self.path}: the store is damaged ({damage}) and lies where nothing can be "
                "written. Copy it to a folder that can be written, and name the copy with --store: "
                "what can be read of it is saved."
            )
        aside = set_aside(self.path)
        told = (
            f"{self.path}: the store was damaged ({damage}). It was set aside as {aside.name}, "
            "nothing of it is deleted"
        )
        try:
            connection = connect(self.path, lasting=self._folder is None)
        except (AuditorError, Damaged) as error:
            raise StoreUnusable(f"{told}; a new one cannot be made ({error}).") from error
        saved = salvage(aside, connection)
        self.warnings.append(f"{told}; saved from it: {saved}. What is missing is measured again.")
        return connection
