"""What one task may take, and what is told of one that came to no value: a code, a sentence."""

from __future__ import annotations

import signal
from dataclasses import dataclass

from auditor.model.errors import FrameFailure
from auditor.words import unread
from auditor.words.unread import please_report


@dataclass(frozen=True, slots=True)
class Limits:
    """What one task may take before it is given up.

    Parameters
    ----------
    time_limit_s : float
        Wall time.
    memory_limit_mb : int
        Address space above what the worker holds when idle, in MiB.
    """

    time_limit_s: float
    memory_limit_mb: int

    @property
    def alarm_s(self) -> float:
        """When a worker ends itself, should nobody be left to end it."""
        return 1.5 * self.time_limit_s + 10.0

    @property
    def patience_s(self) -> float:
        """How long a whole pool may be silent: no task lasts that long, so something is stuck."""
        return 1.5 * self.time_limit_s + 30.0


FROM_OUTSIDE = frozenset({"SIGKILL", "SIGTERM", "SIGHUP", "SIGINT", "SIGQUIT"})
"""Signals that others send: a process that ends by one of them says nothing of its file."""


def timed_out(limits: Limits) -> FrameFailure:
    """Tell of a task that was given up by the clock."""
    return unread.TIMED_OUT.failure(limit_s=limits.time_limit_s)


def out_of_memory(limits: Limits) -> FrameFailure:
    """Tell of a task that met the memory ceiling."""
    return unread.OUT_OF_MEMORY.failure(limit_mb=limits.memory_limit_mb)


def worker_died(exit_code: int) -> FrameFailure:
    """Tell of a worker process that ended on its task (``-n`` is the signal n)."""
    name = signal_name(exit_code)
    if name in FROM_OUTSIDE:
        return unread.ENDED_FROM_OUTSIDE.failure(name=name)
    return unread.CRASHED.failure(ended=name or f"exit status {exit_code}")


def signal_name(exit_code: int) -> str | None:
    """Name the signal behind a process's exit code; None where it was no signal."""
    try:
        return signal.Signals(-exit_code).name
    except ValueError:
        return None


def internal(error: BaseException) -> FrameFailure:
    """Tell of an exception that nobody expected: no traceback, and no blame on the file."""
    return unread.OUR_FAULT.failure(fault=please_report(error))
