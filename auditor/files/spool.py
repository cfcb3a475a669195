"""Much of one kind, laid into a temporary file: memory holds the latest that were asked for."""

from __future__ import annotations

import pickle
import tempfile
from collections import OrderedDict
from dataclasses import dataclass
from os import SEEK_END
from typing import IO, Generic, TypeVar

Value = TypeVar("Value")

AT_HAND = 64
"""Values kept in memory."""


@dataclass(frozen=True, slots=True, eq=False)
class Laid(Generic[Value]):
    """Where one value lies."""

    spool: Spool[Value]
    first: int
    size: int

    @property
    def whole(self) -> Value:
        """The value, fetched."""
        return self.spool.fetched(self.first, self.size)


class Spool(Generic[Value]):
    """A nameless temporary file, gone when it is closed."""

    def __init__(self) -> None:
        self._file: IO[bytes] | None = None
        self._latest: OrderedDict[int, Value] = OrderedDict()

    def lay(self, value: Value) -> Laid[Value] | None:
        """Lay a value down; None where there is no room."""
        packed = pickle.dumps(value, protocol=5)
        try:
            self._file = self._file or tempfile.TemporaryFile()  # noqa: SIM115 - see close
            first = self._file.seek(0, SEEK_END)
            self._file.write(packed)
            self._file.flush()
        except OSError:
            return None
        return Laid(self, first, len(packed))

    def fetched(self, first: int, size: int) -> Value:
        """Return the value that lies in one place."""
        if first not in self._latest:
            assert self._file is not None, "nothing lies in a file that was never made"
            self._file.seek(first)
            self._latest[first] = pickle.loads(self._file.read(size))
            if len(self._latest) > AT_HAND:
                self._latest.popitem(last=False)
        self._latest.move_to_end(first)
        return self._latest[first]

    def close(self) -> None:
        """Let the file go, and what lay in it."""
        if self._file is not None:
            self._file.close()
