"""Work on this machine's cores: one process a worker, and no task can hurt another."""

from __future__ import annotations

import pickle
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from typing import Any, Generic

from auditor.engine.failures import (
    FROM_OUTSIDE,
    Limits,
    internal,
    signal_name,
    timed_out,
    worker_died,
)
from auditor.engine.pool import Lost, WorkerPool
from auditor.files.packing import pack
from auditor.model.errors import AuditorError
from auditor.model.faults import trace_of
from auditor.model.outcome import Outcome, Result, Task

TASKS_PER_WORKER = 200
WAITING_PER_WORKER = 2
"""One at work and one at hand: enough to keep a worker busy, little enough for any memory. The last
ones are at hand for whoever is free first."""
MOST_WORKERS = 60
"""So many can be waited for together on every system (Windows: 63 objects and the caller's own)."""
FEW_PER_WORKER = 4
"""So few tasks are done by the workers that are there: to start another takes as long."""


class LocalEngine:
    """Maps a function over tasks in worker processes.

    A task that crashes its worker, hangs, or eats memory fails alone. The function and the
    tasks must be importable and picklable.

    Parameters
    ----------
    workers : int
        At least 1.
    time_limit_s : float
        A task that takes longer is ended.
    memory_limit_mb : int
        Ceiling of a worker's address space above its idle size (Linux).
    tasks_per_worker : int
        A worker is replaced after that many tasks.
    lasting : bool
        Workers wait for the next tasks however many they have done.
    """

    def __init__(
        self,
        workers: int,
        time_limit_s: float,
        memory_limit_mb: int,
        *,
        tasks_per_worker: int = TASKS_PER_WORKER,
        lasting: bool = False,
    ) -> None:
        self.workers = min(max(1, workers), MOST_WORKERS)
        self.limits = Limits(time_limit_s, memory_limit_mb)
        self._tasks_per_worker, self._lasting = tasks_per_worker, lasting
        self._pool: WorkerPool | None = None

    def run(
        self, function: Callable[[Task], Result], tasks: Sequence[Task]
    ) -> Iterator[Outcome[Result]]:
        """Yield exactly one outcome a task, as they end. Closing the iterator stops the work.

        Only a few tasks a worker are under way at any time, however many there are and however
        slowly the outcomes are taken. After few tasks the workers wait for the next ones; after
        many they end, for each holds the memory that it has worked in.

        Raises
        ------
        AuditorError
            Worker processes cannot be started on this machine.
        """
        try:
            yield from _Batch(self, function, tasks).outcomes()
        except BaseException:  # being closed by the caller too
            self.close()
            raise
        if len(tasks) > FEW_PER_WORKER * self.workers and not self._lasting:
            self.close()

    def begin(self, function: Callable[[None], object], tasks: int) -> None:
        """Start the workers for so many tasks to come, and let each call a function meanwhile.

        Where they cannot be started, :meth:`run` will say so.
        """
        packed = pack((function, None))
        with suppress(AuditorError):
            self.pool_for(tasks).begin(packed)

    def pool_for(self, tasks: int) -> WorkerPool:
        """Return the pool: the one that is there, or one with no more workers than tasks."""
        wanted = min(self.workers, max(1, tasks))
        there = 0 if self._pool is None else self._pool.workers
        if there < wanted and tasks > FEW_PER_WORKER * there:
            self.close()
        if self._pool is None:
            self._pool = WorkerPool(wanted, self.limits, self._tasks_per_worker)
        return self._pool

    @property
    def is_running(self) -> bool:
        """Whether there are workers."""
        return self._pool is not None

    def close(self) -> None:
        """Stop all workers. The engine may be used again; it then starts new ones."""
        pool, self._pool = self._pool, None
        if pool is not None:
            pool.stop()


class _Batch(Generic[Task, Result]):
    """One run: which tasks wait, which are under way, which must be tried alone."""

    def __init__(
        self, engine: LocalEngine, function: Callable[[Task], Result], tasks: Sequence[Task]
    ) -> None:
        self._engine = engine
        self._function = function
        self._tasks = tasks
        self._next = 0
        self._suspects: deque[int] = deque()
        self._tried_alone: set[int] = set()
        self._under_way = 0

    def outcomes(self) -> Iterator[Outcome[Result]]:
        if not self._tasks:
            return
        pool = self._engine.pool_for(len(self._tasks))
        while True:
            yield from self._send(pool)
            if not self._under_way:
                return
            for index, end in pool.ended():
                self._under_way -= 1
                outcome = self._settle(index, end)
                if outcome is not None:
                    yield outcome

    def _send(self, pool: WorkerPool) -> Iterator[Outcome[Result]]:
        """Keep the workers busy; a task that cannot even be packed fails here."""
        for index in self._due(pool.workers):
            try:
                packed = pack((self._function, self._tasks[index]))
            except Exception as error:
                yield _fault(index, error)
                continue
            pool.send(index, packed)
            self._under_way += 1

    def _due(self, workers: int) -> Iterator[int]:
        """Yield what to send now: suspects one at a time with nothing beside them."""
        if self._suspects:
            if not self._under_way:
                self._tried_alone.add(self._suspects[0])
                yield self._suspects.popleft()
            return
        while self._next < len(self._tasks):
            are_last = len(self._tasks) - self._next <= workers
            if self._under_way >= workers * (1 if are_last else WAITING_PER_WORKER):
                return
            self._next += 1
            yield self._next - 1

    def _settle(self, index: int, end: bytes | Lost) -> Outcome[Result] | None:
        """Return the outcome of an ended task; None where it must be tried again."""
        if isinstance(end, bytes):
            try:
                return Outcome(index, *pickle.loads(end))
            except Exception as error:
                return _fault(index, error)
        ended_by = None if end.exit_code is None else signal_name(end.exit_code)
        if end.exit_code is None or ended_by == "SIGALRM":
            return Outcome(index, None, timed_out(self._engine.limits))
        if ended_by in FROM_OUTSIDE and index not in self._tried_alone:
            self._suspects.append(index)
            return None
        return Outcome(index, None, worker_died(end.exit_code))


def _fault(index: int, error: BaseException) -> Outcome[Any]:
    return Outcome(index, None, internal(error), trace_of(error))
