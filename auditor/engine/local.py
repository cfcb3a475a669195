"""Work on this machine's cores: one process a worker, and no task can hurt another."""

from __future__ import annotations

import pickle
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, CancelledError, Future, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import suppress
from typing import Any, Generic

from pebble import ProcessExpired

from auditor.engine.failures import (
    FROM_OUTSIDE,
    Limits,
    internal,
    signal_name,
    timed_out,
    worker_died,
)
from auditor.engine.pool import WorkerPool
from auditor.model.errors import AuditorError
from auditor.model.faults import trace_of
from auditor.model.outcome import Outcome, Result, Task
from auditor.words import calls

TASKS_PER_WORKER = 200
WAITING_PER_WORKER = 2
"""One at work and one at hand: enough to keep a worker busy, little enough for any memory."""
MOST_REBUILDS = 5
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
    patience_s : float, optional
        When nothing at all has ended for so long, the pool is built anew and the tasks under
        way are tried once more, one at a time. By default well beyond the time limit.
    """

    def __init__(
        self,
        workers: int,
        time_limit_s: float,
        memory_limit_mb: int,
        *,
        tasks_per_worker: int = TASKS_PER_WORKER,
        lasting: bool = False,
        patience_s: float | None = None,
    ) -> None:
        self.workers = max(1, workers)
        self.limits = Limits(time_limit_s, memory_limit_mb)
        self.patience_s = self.limits.patience_s if patience_s is None else patience_s
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
        packed = pickle.dumps((function, None), protocol=5)
        with suppress(RuntimeError, OSError):
            pool = self.pool_for(tasks)
            for _ in range(pool.workers):
                pool.send(packed)

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
        self._waiting = iter(range(len(tasks)))
        self._suspects: deque[int] = deque()
        self._tried_alone: set[int] = set()
        self._rebuilds = 0
        self.under_way: dict[Future[bytes], int] = {}

    def outcomes(self) -> Iterator[Outcome[Result]]:
        while True:
            yield from self._send()
            if not self.under_way:
                return
            ended = wait(self.under_way, self._engine.patience_s, FIRST_COMPLETED).done
            if not ended:  # for far too long: begin anew, and find out which task it is
                for index in self._take_back():
                    if index in self._tried_alone:
                        yield Outcome(index, None, timed_out(self._engine.limits))
                    else:
                        self._suspects.append(index)
            for index, future in [(self.under_way.pop(future), future) for future in ended]:
                outcome = self._settle(index, future)
                if outcome is not None:
                    self._rebuilds = 0
                    yield outcome

    def _send(self) -> Iterator[Outcome[Result]]:
        """Keep the workers busy; a task that cannot even be packed fails here."""
        for index in self._next():
            try:
                packed = pickle.dumps((self._function, self._tasks[index]), protocol=5)
            except Exception as error:
                yield _fault(index, error)
                continue
            sent: Future[bytes] | None = None
            while sent is None:
                try:
                    sent = self._engine.pool_for(len(self._tasks)).send(packed)
                except (RuntimeError, OSError) as error:
                    self._rebuild(error)
            self.under_way[sent] = index

    def _next(self) -> Iterator[int]:
        """Yield what to send now: suspects one at a time with nothing beside them."""
        if self._suspects:
            if not self.under_way:
                self._tried_alone.add(self._suspects[0])
                yield self._suspects.popleft()
            return
        most = WAITING_PER_WORKER * self._engine.workers
        while len(self.under_way) < most:
            index = next(self._waiting, None)
            if index is None:
                return
            yield index

    def _rebuild(self, cause: BaseException) -> None:
        """Throw a broken pool away; what was under way bears no blame and is sent again."""
        blameless = self._take_back()
        self._suspects.extend(blameless)
        self._tried_alone.difference_update(blameless)
        self._rebuilds += 1
        if self._rebuilds > MOST_REBUILDS:
            raise AuditorError(calls.WORKERS_NOT_STARTED) from cause

    def _take_back(self) -> list[int]:
        """Stop the pool and return what was under way; the next task starts a new pool."""
        self._engine.close()
        indices = sorted(self.under_way.values())
        self.under_way.clear()
        return indices

    def _settle(self, index: int, future: Future[bytes]) -> Outcome[Result] | None:
        """Return the outcome of an ended task; None where it must be tried again."""
        try:
            return Outcome(index, *pickle.loads(future.result()))
        except (BrokenProcessPool, CancelledError) as error:
            # the pool lost it before it began: it bears no blame
            self._suspects.append(index)
            self._tried_alone.discard(index)
            if self._engine.is_running:
                self._rebuild(error)
            return None
        except TimeoutError:
            return Outcome(index, None, timed_out(self._engine.limits))
        except ProcessExpired as error:
            ended_by = signal_name(error.exitcode)
            if ended_by in FROM_OUTSIDE and index not in self._tried_alone:
                self._suspects.append(index)
                return None
            late = ended_by == "SIGALRM"
            failure = timed_out(self._engine.limits) if late else worker_died(error.exitcode)
            return Outcome(index, None, failure)
        except Exception as error:
            return _fault(index, error)


def _fault(index: int, error: BaseException) -> Outcome[Any]:
    return Outcome(index, None, internal(error), trace_of(error))
