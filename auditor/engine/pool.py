"""A pool of worker processes: started quietly, stopped for certain.

Each has pipes of its own: a worker that dies takes its own task along and nothing else, and whoever
waits for replies is woken by replies alone.

Why no library: the standard one's pool of processes ends all tasks when a worker dies, and knows no
time limit of a task. Others look several times a second whether anything has ended, and copy each
reply through a queue: with such a pool and one worker a frame took 3.6 ms of the parent's time, and
takes 1.9 here.
"""

from __future__ import annotations

import contextlib
import signal
import time
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass
from multiprocessing.connection import Pipe, wait
from multiprocessing.context import SpawnProcess

from auditor.engine.failures import Limits
from auditor.engine.replies import Replies
from auditor.engine.worker import serve
from auditor.model.errors import AuditorError
from auditor.words import calls

GONE_WITHIN_S = 0.5
TOLD_WITHIN_S = 10.0
"""How long the system may take to say how a process ended."""

MOST_FAILED_STARTS = 5
"""So many workers in a row may fail to start."""

AT_ONCE_BYTES = 4000
"""What any system's pipe, a page at the least, takes while nobody reads it. A larger task waits
here until its worker does: it may be sending a large reply meanwhile, and each would wait for the
other."""

IN_A_PIPE = 2
"""One at work and one at hand."""


@dataclass(frozen=True, slots=True)
class Sent:
    """A packed task and its place among all; None for one whose reply nobody wants."""

    index: int | None
    packed: bytes


@dataclass(frozen=True, slots=True)
class Lost:
    """A task whose worker ended before its reply.

    Parameters
    ----------
    exit_code : int or None
        ``-n`` is the signal n; None where the time limit ended it.
    """

    exit_code: int | None


class Worker:
    """One process and its tasks, the first of them at work.

    Spawned, never forked: a fork inherits half of a decoder's threads and hangs. It never sees the
    interrupt key, not even while it starts.
    """

    def __init__(self, limits: Limits) -> None:
        self.tasks: deque[Sent] = deque()
        self.done = 0
        self.is_ready = False
        """Whether it has said that it has started."""
        self._limits = limits
        self._written = 0
        self._since_s = time.monotonic()
        given, self._to = Pipe(duplex=False)
        self.replies, back = Pipe(duplex=False)
        self._gathered = Replies(self.replies)
        # whoever ends this process in good order ends its workers too
        self._process = SpawnProcess(target=serve, args=(given, back, limits), daemon=True)
        try:
            with _interrupts_blocked():
                self._process.start()
        finally:  # with no copy here their ends tell of the worker's
            given.close()
            back.close()

    def give(self, task: Sent) -> None:
        """Let it do one more task."""
        if self.is_ready and not self.tasks:
            self._since_s = time.monotonic()
        self.tasks.append(task)
        self._write()

    def _write(self) -> None:
        with contextlib.suppress(OSError):  # it has died: its replies will end
            while self._written < min(len(self.tasks), IN_A_PIPE):
                packed = self.tasks[self._written].packed
                is_reading = self.is_ready and not self._written
                if len(packed) > AT_ONCE_BYTES and not is_reading:
                    return
                self._written += 1
                self._to.send_bytes(packed)

    def take(self) -> tuple[Sent | None, bytes]:
        """Take what it has sent: its first task and the reply, or no task where there is no reply.

        That is so where it has started, and while a reply has not come whole: one that is stopped
        in the middle of it must not stop its caller.

        Raises
        ------
        EOFError, OSError
            It has ended.
        """
        reply, task = self._gathered.take(), None
        self._since_s = time.monotonic()
        if reply is None:
            return None, b""
        if self.is_ready:
            task = self.tasks.popleft()
            self._written -= 1
            self.done += 1
        self.is_ready = True
        self._write()
        return task, reply

    @property
    def left_s(self) -> float:
        """How long it may still be silent, beyond which it is stuck."""
        if self.is_ready and not self.tasks:
            return self._limits.patience_s
        may_s = self._limits.time_limit_s if self.is_ready else self._limits.patience_s
        return self._since_s + may_s - time.monotonic()

    def end(self) -> None:
        """End it at once, whatever it does."""
        self.kill()
        self._process.join(GONE_WITHIN_S)
        self._to.close()
        self.replies.close()

    def kill(self) -> None:
        """Let the system end it."""
        with contextlib.suppress(OSError):
            self._process.kill()

    def exit_code(self) -> int:
        """Return how one ended that has ended its replies."""
        self._process.join(TOLD_WITHIN_S)
        self.end()
        return self._process.exitcode or 0


class WorkerPool:
    """Workers, each replaced after a number of tasks or when it dies.

    Parameters
    ----------
    workers : int
    limits : Limits
    tasks_per_worker : int
        After that many a worker gives way to a fresh one, whatever its decoder has leaked; 0 for
        no end.
    """

    def __init__(self, workers: int, limits: Limits, tasks_per_worker: int) -> None:
        self.workers = workers
        self._limits, self._tasks_per_worker = limits, tasks_per_worker
        self._staff: list[Worker] = []
        self._waiting: deque[Sent] = deque()
        self._failed_starts = 0

    def begin(self, packed: bytes) -> None:
        """Start all workers, and let each do a task whose reply nobody wants.

        Raises
        ------
        AuditorError
            They cannot be started.
        """
        self._start()
        for worker in self._staff:
            worker.give(Sent(None, packed))

    def send(self, index: int, packed: bytes) -> None:
        """Send one packed task to the worker that has the least to do.

        Raises
        ------
        AuditorError
            Workers cannot be started.
        """
        self._waiting.append(Sent(index, packed))
        self._spread()

    def ended(self) -> list[tuple[int, bytes | Lost]]:
        """Wait until tasks have come to an end; return the places and packed replies of these.

        Raises
        ------
        AuditorError
            Workers cannot be started.
        """
        found: list[tuple[int, bytes | Lost]] = []
        while not found:
            self._spread()
            silence_s = min(worker.left_s for worker in self._staff)
            speaking = wait([worker.replies for worker in self._staff], max(0.0, silence_s))
            for worker in list(self._staff):
                is_silent = worker.replies not in speaking
                if is_silent and worker.left_s > 0:
                    continue
                task, end = self._hear(worker, is_silent=is_silent)
                if task is not None and task.index is not None:
                    found.append((task.index, end))
        return found

    def _hear(self, worker: Worker, *, is_silent: bool) -> tuple[Sent | None, bytes | Lost]:
        """Return the task that has come to an end, if any, and what came of it."""
        if is_silent:
            worker.end()
            return self._bereaved(worker), Lost(None)
        try:
            heard = worker.take()
        except (EOFError, OSError):
            lost = Lost(worker.exit_code())
            return self._bereaved(worker), lost
        self._failed_starts = 0
        if worker.done == self._tasks_per_worker > 0:
            self._staff.remove(worker)
            worker.end()
        return heard

    def _bereaved(self, worker: Worker) -> Sent | None:
        """Return the task that a worker ended on. Those behind it wait for others, blameless."""
        self._staff.remove(worker)
        if not worker.is_ready:
            self._note_failed_start(None)
        task = worker.tasks.popleft() if worker.is_ready and worker.tasks else None
        self._waiting.extendleft(one for one in reversed(worker.tasks) if one.index is not None)
        return task

    def _spread(self) -> None:
        """Give each waiting task to the worker that has the least to do and may take it."""
        self._start()
        most = self._tasks_per_worker
        while self._waiting:
            free = [one for one in self._staff if not most or one.done + len(one.tasks) < most]
            if not free:
                return
            min(free, key=lambda one: len(one.tasks)).give(self._waiting.popleft())

    def _start(self) -> None:
        """Start the workers that are missing; where there is no room, some must do."""
        while len(self._staff) < self.workers:
            try:
                self._staff.append(Worker(self._limits))
            except OSError as error:
                self._note_failed_start(error)
                if self._staff:
                    return

    def _note_failed_start(self, error: OSError | None) -> None:
        self._failed_starts += 1
        if self._failed_starts > MOST_FAILED_STARTS:
            raise AuditorError(calls.WORKERS_NOT_STARTED) from error

    def stop(self) -> None:
        """End all workers at once, running tasks included."""
        staff, self._staff = self._staff, []
        for worker in staff:
            worker.kill()
        for worker in staff:
            worker.end()


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
