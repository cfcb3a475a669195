"""The store's file: opened, closed, and begun anew when it proves damaged."""

from __future__ import annotations

import sqlite3
import tempfile
from collections.abc import Callable
from pathlib import Path
from types import TracebackType
from typing import Self, TypeVar

from auditor.store.archive import salvage
from auditor.store.aside import set_aside
from auditor.store.connection import READING_ERRORS, Damaged, connect, meaning_of
from auditor.store.migrations import migrate

Answer = TypeVar("Answer")


class StoreFile:
    """An open file of the store. Use it in a ``with`` block.

    Parameters
    ----------
    path : Path or None
        Made where it is missing; None for a file that is thrown away when closed.

    Attributes
    ----------
    warnings : list of str
        What went wrong without stopping the work, in sentences.
    """

    def __init__(self, path: Path | None) -> None:
        self._folder: tempfile.TemporaryDirectory[str] | None = None
        if path is None:
            self._folder = tempfile.TemporaryDirectory(
                prefix="exposure-auditor-", ignore_cleanup_errors=True
            )
            path = Path(self._folder.name) / "store.sqlite"
        self.path = path
        self.warnings: list[str] = []
        self._connection = self._connect()

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
        try:
            return work(self._connection)
        except READING_ERRORS as error:
            meaning = meaning_of(error, self.path)
            if not isinstance(meaning, Damaged):
                raise meaning from error
        self._connection.close()
        self._connection = self._begin_anew(meaning)
        return work(self._connection)

    def _connect(self) -> sqlite3.Connection:
        try:
            connection = connect(self.path, lasting=self._folder is None)
        except Damaged as damage:
            return self._begin_anew(damage)
        try:
            migrate(connection, self.path)
        except READING_ERRORS as error:
            connection.close()
            meaning = meaning_of(error, self.path)
            if isinstance(meaning, Damaged):
                return self._begin_anew(meaning)
            raise meaning from error
        except BaseException:
            connection.close()
            raise
        return connection

    def _begin_anew(self, damage: Damaged) -> sqlite3.Connection:
        aside = set_aside(self.path)
        connection = connect(self.path, lasting=self._folder is None)
        migrate(connection, self.path)
        saved = salvage(aside, connection)
        self.warnings.append(
            f"{self.path}: the store was damaged ({damage}). It was set aside as {aside.name}, "
            f"nothing of it is deleted; saved from it: {saved}. What is missing is measured again."
        )
        return connection
