"""Large values that lie in files between two steps, to be fetched by whichever process goes on.

They are pickled, so nobody else may have written them: the folder is made for one run, its owner
alone can look into it, and it is gone at the end.
"""

from __future__ import annotations

import os
import pickle
import tempfile
from dataclasses import dataclass
from typing import Generic, TypeVar

from auditor.files.packing import pack

Value = TypeVar("Value")


@dataclass(frozen=True, slots=True)
class AtHand(Generic[Value]):
    """A value that is kept in memory."""

    whole: Value


@dataclass(frozen=True, slots=True)
class Laid(Generic[Value]):
    """Where one value lies.

    Parameters
    ----------
    path : str
        Of a file of its own.
    """

    path: str

    @property
    def whole(self) -> Value:
        """The value, fetched."""
        with open(self.path, "rb") as file:  # noqa: PTH123 - once an evening
            value: Value = pickle.load(file)
        return value


@dataclass(frozen=True, slots=True)
class Folder:
    """Lays values down, each in a file of its own.

    Parameters
    ----------
    path : str
        Of the folder.
    """

    path: str

    def __call__(self, value: Value) -> AtHand[Value] | Laid[Value]:
        """Lay a value down; where there is no room it is kept in memory."""
        try:
            number, path = tempfile.mkstemp(dir=self.path)
            with os.fdopen(number, "wb") as file:
                file.write(pack(value))
        except OSError:
            return AtHand(value)
        return Laid(path)
