"""The cluster engine on two real worker processes, with tasks and workers that really die."""

from __future__ import annotations

import gc
import os
import socket
from collections.abc import Iterator
from typing import Any, NoReturn

import pytest
from distributed import Client
from distributed.client import ClosedClientError

from auditor.engine import cluster as engine_cluster
from auditor.engine.cluster import ClusterEngine
from auditor.engine.remote import WorkerFacts
from auditor.model.errors import AuditorError, WrongCall
from tests.cluster_machines import Cluster
from tests.engine_work import Job, work


@pytest.fixture(scope="module")
def cluster(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Cluster]:
    started = Cluster(tmp_path_factory.mktemp("cluster"))
    started.add_worker()
    started.add_worker()
    yield started
    started.close()


@pytest.fixture
def engine(cluster: Cluster) -> Iterator[ClusterEngine]:
    made = ClusterEngine(cluster.address, time_limit_s=6, memory_limit_mb=160)
    yield made
    made.close()


def test_bad_tasks_cost_only_themselves(engine: ClusterEngine, cluster: Cluster) -> None:
    bad = {3: "segfault", 7: "loop", 11: "eat", 15: "unreadable", 19: "fault"}
    jobs = [Job(bad.get(number, "slow"), number) for number in range(24)]
    ended = {outcome.index: outcome for outcome in engine.run(work, jobs)}
    assert sorted(ended) == list(range(24))
    codes = {index: outcome.failure.code for index, outcome in ended.items() if outcome.failure}
    assert codes == {
        3: "worker-died", 7: "timed-out", 11: "out-of-memory", 15: "cut-off", 19: "internal",
    }  # fmt: skip
    assert all(ended[index].value == 10 * index for index in range(24) if index not in bad)
    assert all(worker.poll() is None for worker in cluster.workers)


def test_the_work_is_shared_by_processes_apart_from_the_workers(
    engine: ClusterEngine, cluster: Cluster
) -> None:
    jobs = [Job("process_id", number) for number in range(12)]
    pids = {outcome.value for outcome in engine.run(work, jobs)}
    assert len(pids) == 2
    assert not pids & {worker.pid for worker in cluster.workers} | {os.getpid()} & pids


def test_only_a_few_tasks_are_under_way(engine: ClusterEngine) -> None:
    asked: list[int] = []

    class Counted(list[Job]):
        def __getitem__(self, index: int) -> Job:  # type: ignore[override]
            asked.append(index)
            return Job("slow", index)

    outcomes = engine.run(work, Counted([Job("slow")] * 10_000))
    for _ in range(5):
        next(outcomes)
    assert max(asked) < 5 + 2 * 3
    outcomes.close()  # type: ignore[attr-defined]


def test_a_worker_killed_in_the_middle_costs_nothing(
    engine: ClusterEngine, cluster: Cluster
) -> None:
    jobs = [Job("slow", number) for number in range(60)]
    outcomes = []
    for outcome in engine.run(work, jobs):
        outcomes.append(outcome)
        if len(outcomes) == 10:
            cluster.workers[0].kill()
        if len(outcomes) == 30:
            cluster.add_worker()
    assert sorted(outcome.index for outcome in outcomes) == list(range(60))
    assert all(outcome.value == 10 * outcome.index for outcome in outcomes)


@pytest.fixture(scope="module")
def lonely(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Cluster]:
    started = Cluster(tmp_path_factory.mktemp("lonely"))
    yield started
    started.close()


def test_a_scheduler_without_workers_is_a_wrong_call(
    lonely: Cluster, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("auditor.engine.cluster.WORKERS_WITHIN_S", 0.3)
    with pytest.raises(WrongCall, match="no workers"):
        list(ClusterEngine(lonely.address, 3, 160).run(work, [Job("honest")]))


def test_a_lost_scheduler_is_told_and_what_came_before_stands(lonely: Cluster) -> None:
    lonely.add_worker()
    engine = ClusterEngine(lonely.address, time_limit_s=60, memory_limit_mb=160)
    taken: list[int] = []

    def take_until_lost() -> None:
        for outcome in engine.run(work, [Job("slow", number) for number in range(1000)]):
            taken.append(outcome.index)
            if len(taken) == 5:
                lonely.scheduler.kill()

    with pytest.raises(AuditorError, match="is lost"):
        take_until_lost()
    engine.close()
    assert 5 <= len(taken) < 1000


def test_nobody_at_the_address_is_a_wrong_call(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("auditor.engine.cluster.CONNECT_WITHIN_S", 0.3)
    for address in ("tcp://127.0.0.1:9", "not an address", "tls://127.0.0.1:9", "nosuch://x:1"):
        engine = ClusterEngine(address, 3, 160)
        with pytest.raises(WrongCall, match="no scheduler"):
            list(engine.run(work, [Job("honest")]))


def test_a_connection_that_failed_is_closed_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Left to the garbage collector, it could block whoever connects next for ever."""
    closed: list[str] = []
    close: Any = Client.close

    def note(client: Any, *given: Any, **named: Any) -> Any:
        closed.append(client.status)
        return close(client, *given, **named)

    async def answering(_: str) -> None:
        """What answered a moment ago may be gone when the client comes."""

    monkeypatch.setattr("auditor.engine.cluster._answer", answering)
    monkeypatch.setattr(Client, "close", note)
    gc.disable()
    try:
        with pytest.raises(WrongCall, match="no scheduler"):
            list(ClusterEngine("not an address", 3, 160).run(work, [Job("honest")]))
        at_once = tuple(closed)
    finally:
        gc.enable()
    assert at_once == ("connecting",)


@pytest.mark.parametrize(
    ("facts", "told"),
    [
        (WorkerFacts("0.0.0", may_have_children=True), "same version"),
        (WorkerFacts("", may_have_children=False), "DAEMON=False"),
    ],
)
def test_unfit_workers_are_found_before_work_is_sent(
    engine: ClusterEngine, monkeypatch: pytest.MonkeyPatch, facts: WorkerFacts, told: str
) -> None:
    if not facts.version:
        monkeypatch.setattr("auditor.engine.cluster.__version__", "")
    monkeypatch.setattr("auditor.engine.cluster.worker_facts", _Told(facts))
    with pytest.raises(WrongCall, match=told):
        list(engine.run(work, [Job("honest")]))


def test_workers_that_cannot_be_asked_are_told(
    engine: ClusterEngine, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("auditor.engine.cluster.worker_facts", _fail)
    with pytest.raises(AuditorError, match="ZeroDivisionError"):
        list(engine.run(work, [Job("honest")]))


def _fail() -> NoReturn:
    raise ZeroDivisionError


class _Closed:
    """A connection that broke just before a task was sent."""

    status = "closed"

    def nthreads(self) -> dict[str, int]:
        return {"one": 1}

    def submit(self, *given: object, **named: object) -> NoReturn:
        raise ClosedClientError

    def close(self) -> None:
        self.status = "left"


def test_a_connection_that_breaks_while_sending_is_told() -> None:
    engine, closed = ClusterEngine("tcp://192.0.2.10:8786", 3, 160), _Closed()
    engine._client = closed
    with pytest.raises(AuditorError, match="is lost: the connection broke"):
        list(engine.run(work, [Job("honest")]))
    assert closed.status == "left"


class _Told:
    """Stands in for the question to a worker, with a known answer."""

    def __init__(self, facts: WorkerFacts) -> None:
        self._facts = facts

    def __call__(self) -> WorkerFacts:
        return self._facts


def test_no_tasks_need_no_cluster(monkeypatch: pytest.MonkeyPatch) -> None:
    def refused(engine: ClusterEngine) -> NoReturn:
        raise AssertionError("a scheduler was asked for")

    monkeypatch.setattr(ClusterEngine, "client", refused)
    assert list(ClusterEngine("tcp://127.0.0.1:9", 3, 160).run(work, [])) == []


@pytest.mark.parametrize("backlog", [0, 50])
def test_an_address_that_listens_and_never_answers_is_given_up(
    monkeypatch: pytest.MonkeyPatch, backlog: int
) -> None:
    assert engine_cluster.CONNECT_WITHIN_S <= 10.0
    monkeypatch.setattr(engine_cluster, "CONNECT_WITHIN_S", 0.5)
    with socket.socket() as silent:
        silent.bind(("127.0.0.1", 0))
        silent.listen(backlog)
        address = f"tcp://127.0.0.1:{silent.getsockname()[1]}"
        engine = ClusterEngine(address, time_limit_s=2, memory_limit_mb=160)
        with pytest.raises(WrongCall, match="no scheduler answers there"):
            list(engine.run(work, [Job("slow")]))
        engine.close()
