"""How long and how much memory one task may take."""

from __future__ import annotations

from dataclasses import dataclass


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
