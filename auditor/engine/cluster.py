"""Work on the machines of a Dask cluster; needs the extra ``cluster``.

Workers need the same version of this package, the same paths to the files (a shared folder
mounted at the same place, or addresses that the task's function can open), and leave to start
processes of their own::

    dask scheduler
    DASK_DISTRIBUTED__WORKER__DAEMON=False dask worker tcp://host:8786 --nworkers 16 --nthreads 1

Only the calling process gathers results and writes; workers open no store.
"""

from __future__ import annotations

import asyncio
import logging
import time
import uuid
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from dataclasses import replace
from itertools import islice
from queue import Empty, SimpleQueue
from typing import Any, Generic, TypeAlias

from distributed import Client, KilledWorker
from distributed.core import rpc

from auditor import __version__
from auditor.engine.failures import Limits, internal, worker_died
from auditor.engine.remote import WorkerFacts, run_apart, worker_facts
from auditor.model.errors import AuditorError, EngineLost, WrongCall
from auditor.model.faults import trace_of
from auditor.model.outcome import Outcome, Result, Task
from auditor.model.text import public_address
from auditor.words import calls

Connection: TypeAlias = Any
"""A connected client; the library has no types to check against."""

CONNECT_WITHIN_S = 8.0
"""Whatever is at the address: with the start of the program some ten seconds in all."""

WORKERS_WITHIN_S = 30.0
WAITING_PER_THREAD = 3
RETRIES = 3
"""How often a task is sent again after an error that is not its own: a lost worker or network."""
LOOK_AGAIN_S = 2.0
GATHER_S = 0.05
"""Results are waited for so long and fetched together: a message costs as much as what is in it."""


class ClusterEngine:
    """Maps a function over tasks on a Dask cluster.

    Every task runs in a process of its own on its machine, under the same limits as on one
    machine. A worker or a machine that dies costs nothing: its tasks are done by others.

    Parameters
    ----------
    address : str
        Of the scheduler, ``tcp://host:8786``.
    time_limit_s, memory_limit_mb
        As for :class:`auditor.engine.local.LocalEngine`.
    """

    def __init__(
        self,
        address: str,
        time_limit_s: float,
        memory_limit_mb: int,
    ) -> None:
        self.address = address
        self.limits = Limits(time_limit_s, memory_limit_mb)
        # nothing has ended for so long: the run is given up, well beyond the time limit
        self.patience_s = 2 * self.limits.patience_s
        self._client: Connection = None

    def run(
        self, function: Callable[[Task], Result], tasks: Sequence[Task]
    ) -> Iterator[Outcome[Result]]:
        """Yield exactly one outcome a task, as they end. Closing the iterator stops the work.

        Raises
        ------
        WrongCall
            No scheduler answers, it has no workers, or they are not fit for the work.
        EngineLost
            The cluster was lost in the middle; what was yielded stands.
        """
        if not tasks:
            return
        try:
            yield from _Batch(self.client(), function, tasks, self).outcomes()
        except BaseException:  # being closed by the caller too
            self.close()
            raise

    def client(self) -> Connection:
        """Return the connection to the scheduler, made and checked when first asked for."""
        if self._client is not None:
            return self._client
        for name in ("distributed", "distributed.client", "distributed.core"):
            logging.getLogger(name).setLevel(logging.CRITICAL)  # its troubles are told as ours
        connected: Any = _Client
        try:
            # a client waits for ever for what listens and does not answer; this gives up
            with ThreadPoolExecutor(1) as apart:  # the caller may be in an event loop of its own
                apart.submit(asyncio.run, _answer(self.address)).result()
            client: Connection = connected(
                self.address, timeout=CONNECT_WITHIN_S, set_as_default=False,
                name="exposure-auditor",
            )  # fmt: skip
        except Exception as error:  # the address alone decides which kind it is
            raise WrongCall(
                calls.NO_SCHEDULER.format(address=public_address(self.address))
            ) from error
        try:
            _check_workers(client, self.address)
        except BaseException:
            client.close()
            raise
        self._client = client
        return client

    def close(self) -> None:
        """Leave the cluster; tasks that have not begun are dropped by it."""
        client, self._client = self._client, None
        if client is not None:
            client.close()


class _Batch(Generic[Task, Result]):
    """One run: which tasks wait and which are under way."""

    def __init__(
        self,
        client: Connection,
        function: Callable[[Task], Result],
        tasks: Sequence[Task],
        engine: ClusterEngine,
    ) -> None:
        self._client = client
        self._function = function
        self._tasks = tasks
        self._engine = engine
        self._name = uuid.uuid4().hex
        self._waiting = iter(range(len(tasks)))
        self._under_way: dict[str, tuple[int, Any]] = {}
        self._ended: SimpleQueue[str] = SimpleQueue()
        self._most = 0

    def outcomes(self) -> Iterator[Outcome[Result]]:
        last = looked = time.monotonic()
        self._look()
        while True:
            self._send()
            if not self._under_way:
                return
            try:
                ended = [self._ended.get(timeout=LOOK_AGAIN_S)]
            except Empty:
                if time.monotonic() - last > self._engine.patience_s:
                    raise self._lost(
                        calls.NOTHING_ENDED.format(patience_s=self._engine.patience_s)
                    ) from None
                self._look()
                continue
            time.sleep(GATHER_S)
            while not self._ended.empty():  # all that ended meanwhile comes in one message
                ended.append(self._ended.get())
            yield from self._settle([self._under_way.pop(key) for key in ended])
            last = time.monotonic()
            if last - looked > LOOK_AGAIN_S:
                self._look()
                looked = last

    def _look(self) -> None:
        """See how many workers there are now: machines may join and leave."""
        try:
            threads = sum(self._client.nthreads().values())
        except Exception as error:  # whatever it is: nothing but the connection was asked
            raise self._lost(calls.SCHEDULER_SILENT) from error
        self._most = max(2, WAITING_PER_THREAD * threads)

    def _send(self) -> None:
        """Send what the workers are short of, many tasks in one message."""
        room = self._most - len(self._under_way)
        if self._under_way and room < self._most / WAITING_PER_THREAD:
            return
        indices = list(islice(self._waiting, room))
        if not indices:
            return
        keys = [f"{self._name}-{index}" for index in indices]
        try:
            futures = self._client.map(
                run_apart,
                [self._tasks[index] for index in indices],
                key=keys,
                retries=RETRIES,
                pure=False,
                function=self._function,
                limits=self._engine.limits,
            )
        except Exception as error:
            self._check_connected(error)
            raise
        for key, index, future in zip(keys, indices, futures, strict=True):
            self._under_way[key] = index, future
            future.add_done_callback(lambda ended: self._ended.put(ended.key))

    def _settle(self, ended: Sequence[tuple[int, Any]]) -> Iterator[Outcome[Result]]:
        """Fetch what some tasks came to in one message, and let the cluster forget them.

        Where that fails each is asked alone, and tells why.
        """
        well = [future for _, future in ended if future.status == "finished"]
        fetched: dict[str, Outcome[Result]] = {}
        with suppress(Exception):
            outcomes = self._client.sync(
                lambda: self._client.gather(well, asynchronous=True),
                callback_timeout=self._engine.patience_s,
            )
            fetched = {future.key: one for future, one in zip(well, outcomes, strict=True)}
        for index, future in ended:
            try:
                outcome = fetched.get(future.key)
                outcome = outcome or future.result(timeout=self._engine.patience_s)
            except KilledWorker:
                outcome = Outcome(0, None, worker_died(-9))
            except (TimeoutError, OSError) as error:
                raise self._lost(calls.RESULT_NOT_FETCHED) from error
            except Exception as error:
                self._check_connected(error)
                outcome = Outcome(0, None, internal(error), trace_of(error))
            future.release()
            yield replace(outcome, index=index)

    def _check_connected(self, error: BaseException) -> None:
        if self._client.status != "running":
            raise self._lost(calls.CONNECTION_BROKE) from error

    def _lost(self, why: str) -> EngineLost:
        return EngineLost(
            calls.CLUSTER_LOST.format(address=public_address(self._engine.address), why=why)
        )


class _Client(Client):
    """A client that leaves nothing behind where it cannot connect.

    The library would close it when Python's collector happens to come by, and waits for ever if
    that is while another client is being made.
    """

    def start(self, **options: Any) -> None:
        start: Any = super().start
        close: Any = self.close
        try:
            start(**options)
        except BaseException:
            close()
            raise


async def _answer(address: str) -> None:
    """Let a scheduler say what it is."""

    async def ask() -> None:
        connect: Any = rpc
        async with connect(address, timeout=CONNECT_WITHIN_S) as scheduler:
            await scheduler.identity()

    await asyncio.wait_for(ask(), CONNECT_WITHIN_S)


def _check_workers(client: Connection, address: str) -> None:
    """Find out before any work is sent whether it can be done.

    Raises
    ------
    WrongCall
        It cannot; the message says what to change.
    AuditorError
        They do not answer.
    """
    try:
        client.wait_for_workers(1, timeout=WORKERS_WITHIN_S)
    except TimeoutError as error:
        raise WrongCall(calls.NONE_ON_CLUSTER.format(address=public_address(address))) from error
    try:
        facts: dict[str, WorkerFacts] = client.run(worker_facts)
    except ImportError as error:
        raise WrongCall(
            calls.PROGRAM_LACKING.format(
                address=public_address(address), reason=error, here=__version__
            )
        ) from error
    except Exception as error:  # theirs, ours and the network's alike
        raise AuditorError(
            calls.NO_ANSWER.format(address=public_address(address), name=type(error).__name__)
        ) from error
    for worker, told in facts.items():
        if told.version != __version__:
            raise WrongCall(
                calls.ANOTHER_VERSION.format(worker=worker, version=told.version, here=__version__)
            )
        if not told.may_have_children:
            raise WrongCall(calls.NO_PROCESSES.format(worker=worker))
