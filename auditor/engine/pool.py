"""A pool of worker processes: started quietly, stopped for certain."""

from __future__ import annotations

import contextlib
import signal
from collections.abc import Iterator
from concurrent.futures import Future
from multiprocessing.context import SpawnContext, SpawnProcess
from threading import Thread
from typing import Any

from pebble import ProcessPool

from auditor.engine.failures import Limits
from auditor.engine.worker import call, prepare

GONE_WITHIN_S = 0.5


class Worker(SpawnProcess):
    """A process that never sees the interrupt key, not even while it starts."""

    def start(self) -> None:
        """Start with the signal blocked, which the child inherits, and bound to this process."""
        self.daemon = True  # whoever ends this process in good order ends its workers too
        with _interrupts_blocked():
            super().start()


class WorkerContext(SpawnContext):
    """Makes spawned workers and remembers them.

    Spawned, never forked: a fork inherits half of a decoder's threads and hangs. Locks are kept
    until all is over: the pool lets its own go before it ends the workers, and one that is still
    starting would miss them and say so.
    """

    def __init__(self) -> None:
        super().__init__()
        self.workers: list[Worker] = []
        self._locks: list[Any] = []

    def RLock(self) -> Any:
        """Make one lock, as :func:`multiprocessing.RLock` would."""
        self._locks.append(super().RLock())
        return self._locks[-1]

    def Process(self, *args: Any, **kwargs: Any) -> Worker:  # type: ignore[override]
        """Make one worker, as :class:`multiprocessing.Process` would."""
        self.workers = [worker for worker in self.workers if worker.exitcode is None]
        self.workers.append(Worker(*args, **kwargs))
        return self.workers[-1]


class WorkerPool:
    """A fixed number of workers, each replaced after a number of tasks or when it dies.

    Parameters
    ----------
    workers : int
    limits : Limits
    tasks_per_worker : int
        After that many a worker gives way to a fresh one, whatever its decoder has leaked.
    """

    def __init__(self, workers: int, limits: Limits, tasks_per_worker: int) -> None:
        self.workers = workers
        self._limits = limits
        self._context = WorkerContext()
        self._pool = ProcessPool(
            max_workers=workers,
            max_tasks=tasks_per_worker,
            initializer=prepare,
            context=self._context,
        )

    def send(self, packed: bytes) -> Future[bytes]:
        """Send one packed task; the future holds the packed reply.

        Raises
        ------
        RuntimeError
            The pool is broken and takes no more.
        """
        sent: Future[bytes] = self._pool.schedule(
            call, args=(packed, self._limits), timeout=self._limits.time_limit_s
        )
        return sent

    def stop(self) -> None:
        """End all workers at once, running tasks included; the pool's threads end by themselves.

        They look up ten times a second only, and may be stuck with what a worker was sending.
        """
        self._pool.stop()  # type: ignore[no-untyped-call]
        for worker in self._context.workers:
            with contextlib.suppress(ValueError, OSError, AttributeError):
                if worker.exitcode is None:
                    worker.kill()
                worker.join(GONE_WITHIN_S)
        Thread(target=self._join, daemon=True).start()

    def _join(self) -> None:
        with contextlib.suppress(RuntimeError, OSError):
            self._pool.join()


@contextlib.contextmanager
def _interrupts_blocked() -> Iterator[None]:
    """Block the interrupt key: a child takes that from its parent."""
    can_block = hasattr(signal, "pthread_sigmask")
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT}) if can_block else None
    try:
        yield
    finally:
        if before is not None:
            signal.pthread_sigmask(signal.SIG_SETMASK, before)
