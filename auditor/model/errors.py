"""One root of errors: a code, what is wrong and what to do, and an exit status."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from typing import ClassVar

from auditor.model.facts import FileFacts


class AuditorError(Exception):
    """Something the user can act on. Caught once, in the command.

    Parameters
    ----------
    message : str
        What is wrong, in which file, and what to do.

    Examples
    --------
    >>> from auditor.api import AuditorError, nd_time
    >>> try:
    ...     nd_time("1/15", filters=["big"])
    ... except AuditorError as error:
    ...     print(error.code)
    wrong-call
    """

    exit_status: ClassVar[int] = 2
    code: ClassVar[str] = "error"


class WrongCall(AuditorError):
    """The call itself was wrong: a path that is not there, a value that cannot be."""

    code = "wrong-call"


class CannotWrite(AuditorError):
    """Nothing could be written where the reports or the store belong."""

    code = "cannot-write"


class BadSettings(AuditorError):
    """The settings file cannot be understood."""

    code = "bad-settings"


class StoreRefused(AuditorError):
    """The store is no store, or cannot be opened."""

    code = "store-refused"


class NothingFound(WrongCall):
    """There is no raw file under the paths."""

    code = "nothing-found"


class EngineLost(AuditorError):
    """The machines that measure are gone in the middle of the work."""

    code = "engine-lost"


class Stopped(AuditorError):
    """The work was stopped half way, as it was asked to be.

    Examples
    --------
    >>> from threading import Event
    >>> from auditor.api import Stopped, audit_shoot
    >>> stop = Event()
    >>> stop.set()
    >>> try:
    ...     audit_shoot("/media/card", stop=stop)  # doctest: +SKIP
    ... except Stopped:
    ...     print("stopped")
    """

    exit_status = 130
    code = "stopped"


class ProgramFailed(AuditorError):
    """No file could be measured, and the fault lies here, not with the files."""

    code = "program-failed"


class StoreUnusable(StoreRefused):
    """It is a store, and cannot be used for now: newer, locked, or not to be set aside."""


class StoreFull(StoreUnusable):
    """The disk that the store lies on is full."""


class UnreadableFile(Exception):
    """One file cannot be measured. A shoot goes on without it.

    Parameters
    ----------
    code : str
        One of the codes in :data:`FAILURE_KINDS`.
    message : str
        What is wrong, without the file's path, and what to do.
    """

    def __init__(self, code: str, message: str) -> None:
        super().__init__(code, message)
        self.code = code
        self.message = message


class FailureKind(StrEnum):
    """Whose fault a failure is, and so what to do about it."""

    MEDIUM = "medium"
    """The card, reader, link or permissions: try another reader, then another copy."""
    DAMAGED = "damaged"
    """The bytes were read and are not a whole picture: another copy may be whole."""
    UNSUPPORTED = "unsupported"
    """The file may well be whole; nothing here reads it."""
    OURS = "ours"
    """A limit or a fault of this program or of its libraries: nothing is said of the file."""


_KINDS = {
    FailureKind.MEDIUM: ("no-permission", "vanished", "changed", "input-error"),
    FailureKind.DAMAGED: ("cut-off", "empty", "no-pixels", "damaged"),
    FailureKind.UNSUPPORTED: ("not-raw", "unsupported", "not-sensor-data", "too-large"),
    FailureKind.OURS: ("timed-out", "out-of-memory", "worker-died", "interrupted", "internal"),
}
FAILURE_KINDS = {code: kind for kind, codes in _KINDS.items() for code in codes}
"""The kind of each code of a failure."""


@dataclass(frozen=True, slots=True)
class FrameFailure:
    """Why one file could not be measured.

    Parameters
    ----------
    code : str
        A key of :data:`FAILURE_KINDS`.
    message : str
        What is wrong and what to do.
    """

    code: str
    message: str

    @property
    def kind(self) -> FailureKind:
        """Whose fault it is; a code from elsewhere says nothing of the file."""
        return FAILURE_KINDS.get(self.code, FailureKind.OURS)


@dataclass(frozen=True, slots=True)
class FileFailure(FrameFailure):
    """A failure with what the file's header told all the same: time, camera, exposure."""

    facts: FileFacts = field(default_factory=FileFacts)
