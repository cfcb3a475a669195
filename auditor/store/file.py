"""The store's file: opened, closed, and begun anew when it proves damaged."""

from __future__ import annotations

import sqlite3
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Self, TypeVar

from auditor.model.errors import AuditorError, CannotWrite, StoreFull, StoreRefused, StoreUnusable
from auditor.store.database import (
    READING_ERRORS,
    Damaged,
    connect,
    connect_to_read,
    meaning_of,
    set_aside,
)
from auditor.store.exchange import salvage
from auditor.words import store as words

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
                raise CannotWrite(words.NO_TEMPORARY.format(reason=error.strerror)) from error
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

    def __exit__(self, *_ended: object) -> None:
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
                    again = words.DAMAGED_AGAIN.format(path=self.path, damage=damage)
                    raise StoreUnusable(again) from error
            self._connection.close()
            self._connection, anew = self._begin_anew(damage), True

    def _meaning_of(self, error: Exception) -> AuditorError | Damaged:
        meaning = meaning_of(
            error, self.path, reading=words.NAME_ANOTHER if self._reading else None
        )
        if self._folder is not None and isinstance(meaning, StoreRefused):
            full = isinstance(meaning, StoreFull)
            why = "the disk is full" if full else f"nothing can be written ({error})"
            folder = self.path.parent
            return CannotWrite(words.NO_ROOM_FOR_THE_WHILE.format(folder=folder, why=why))
        return meaning

    def _begin_anew(self, damage: Damaged) -> sqlite3.Connection:
        if self._reading:
            raise StoreRefused(words.DAMAGED_AND_LEFT.format(path=self.path, damage=damage))
        aside = set_aside(self.path)
        told = words.SET_ASIDE.format(path=self.path, damage=damage, name=aside.name)
        try:
            connection = connect(self.path, lasting=self._folder is None)
        except (AuditorError, Damaged) as error:
            raise StoreUnusable(words.NOT_BEGUN_ANEW.format(told=told, error=error)) from error
        self.warnings.append(words.SAVED.format(told=told, saved=salvage(aside, connection)))
        return connection
