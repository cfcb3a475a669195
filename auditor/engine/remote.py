"""What runs on the workers of a cluster: each task once more in a process of its own.

A cluster's worker serves many tasks from one process; a decoder that crashes in it would take
its neighbours along. So each of its threads keeps a child process that does the work.
"""

from __future__ import annotations

import multiprocessing
import threading
from collections.abc import Callable
from dataclasses import dataclass

from auditor import __version__
from auditor.engine.failures import Limits
from auditor.engine.local import LocalEngine
from auditor.model.outcome import Outcome, Result, Task


@dataclass(frozen=True, slots=True)
class WorkerFacts:
    """What must be right about a worker before work is sent to it."""

    version: str
    may_have_children: bool


def worker_facts() -> WorkerFacts:
    """Tell of the worker that this is called on."""
    return WorkerFacts(__version__, not multiprocessing.current_process().daemon)


class _OfThread(threading.local):
    engine: LocalEngine | None = None


_of_thread = _OfThread()


def run_apart(task: Task, function: Callable[[Task], Result], limits: Limits) -> Outcome[Result]:
    """Run one task in this thread's child process and return its outcome, at index 0."""
    engine = _of_thread.engine
    if engine is None or engine.limits != limits:
        if engine is not None:
            engine.close()
        engine = _of_thread.engine = LocalEngine(1, limits.time_limit_s, limits.memory_limit_mb)
    (outcome,) = engine.run(function, [task])
    return outcome
