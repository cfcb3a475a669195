"""The local engine: every task comes to exactly one end, and little is under way at once."""

from __future__ import annotations

import os
import pickle
import time
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import overload

import pytest

from auditor import examine
from auditor.early import begun_engine
from auditor.engine.local import LocalEngine
from auditor.task import Named, examine_packed, get_ready
from tests.engine_work import Job, work


@pytest.fixture
def engine() -> Iterator[LocalEngine]:
    made = LocalEngine(2, time_limit_s=20, memory_limit_mb=500)
    yield made
    made.close()


def test_every_task_has_one_outcome_with_its_own_value(engine: LocalEngine) -> None:
    jobs = [Job("honest", number) for number in range(300)]
    outcomes = list(engine.run(work, jobs))
    assert sorted(outcome.index for outcome in outcomes) == list(range(300))
    assert all(outcome.value == 10 * outcome.index for outcome in outcomes)
    assert all(outcome.failure is None for outcome in outcomes)


def test_no_tasks_start_no_workers(engine: LocalEngine) -> None:
    assert list(engine.run(work, [])) == []
    assert not engine.is_running


def test_one_task_starts_one_worker(engine: LocalEngine) -> None:
    assert [outcome.value for outcome in engine.run(work, [Job("honest", 7)])] == [70]
    assert engine.pool_for(1).workers == 1


def test_engine_works_again_after_being_closed(engine: LocalEngine) -> None:
    assert [outcome.value for outcome in engine.run(work, [Job("honest", 1)])] == [10]
    engine.close()
    assert [outcome.value for outcome in engine.run(work, [Job("honest", 2)])] == [20]


def test_workers_are_other_processes_with_one_thread_each(engine: LocalEngine) -> None:
    before = os.environ.get("OMP_NUM_THREADS")
    pid, threads = list(engine.run(work, [Job("process_id"), Job("threads")]))
    values = {pid.index: pid.value, threads.index: threads.value}
    assert values[0] != os.getpid()
    assert values[1] == 1
    assert os.environ.get("OMP_NUM_THREADS") == before


def test_workers_are_recycled() -> None:
    engine = LocalEngine(1, time_limit_s=20, memory_limit_mb=500, tasks_per_worker=3)
    jobs = [Job("process_id", number) for number in range(9)]
    pids = [outcome.value for outcome in engine.run(work, jobs)]
    engine.close()
    assert len(pids) == 9
    assert len(set(pids)) == 3


class Counted(Sequence[Job]):
    """A million jobs that exist only when asked for; remembers how far one has asked."""

    def __init__(self) -> None:
        self.asked = 0

    def __len__(self) -> int:
        return 1_000_000

    @overload
    def __getitem__(self, index: int) -> Job: ...
    @overload
    def __getitem__(self, index: slice) -> Sequence[Job]: ...
    def __getitem__(self, index: int | slice) -> Job | Sequence[Job]:
        assert isinstance(index, int)
        self.asked = max(self.asked, index + 1)
        return Job("honest", index)


def test_only_a_few_of_a_million_tasks_are_under_way(engine: LocalEngine) -> None:
    jobs = Counted()
    outcomes = engine.run(work, jobs)
    for taken in range(1, 51):
        next(outcomes)
        assert jobs.asked < taken + 2 * 2, "one at work and one at hand"
    outcomes.close()  # type: ignore[attr-defined]
    assert not engine.is_running


def test_what_a_function_raises_is_told_without_a_traceback(engine: LocalEngine) -> None:
    kinds = ("unreadable", "fault", "leave", "unpicklable")
    ended = {
        kinds[outcome.index]: outcome.failure
        for outcome in engine.run(work, [Job(kind) for kind in kinds])
    }
    unreadable, fault, leave, unpicklable = (ended[kind] for kind in kinds)
    assert unreadable is not None
    assert fault is not None
    assert leave is not None
    assert unpicklable is not None
    assert unreadable.code == "cut-off"
    assert unreadable.message == "The file ends before its picture does."
    assert {fault.code, leave.code, unpicklable.code} == {"internal"}
    assert "ZeroDivisionError: a fault over two lines" in fault.message
    assert "Traceback" not in fault.message


def test_a_task_that_cannot_be_sent_fails_alone(engine: LocalEngine) -> None:
    jobs: list[object] = [Job("honest", 1), lambda: None, Job("honest", 2)]
    outcomes = {outcome.index: outcome for outcome in engine.run(work, jobs)}  # type: ignore[arg-type]
    assert outcomes[0].value == 10
    assert outcomes[2].value == 20
    failure = outcomes[1].failure
    assert failure is not None
    assert failure.code == "internal"


def test_large_tasks_and_large_replies_do_not_wait_for_each_other(engine: LocalEngine) -> None:
    jobs = [Job("echo", path=str(number) * 300_000) for number in range(8)]
    ended = {outcome.index: outcome.value for outcome in engine.run(work, jobs)}
    assert [ended[number] for number in range(8)] == [job.path for job in jobs]


def test_the_last_task_is_at_hand_for_whoever_is_free(engine: LocalEngine, tmp_path: Path) -> None:
    mark = str(tmp_path / "mark")
    jobs = [Job("wait_for", 1, mark), Job("honest", 2), Job("make", 3, mark)]
    outcomes = engine.run(work, jobs)
    assert {outcome.index: outcome.value for outcome in outcomes} == {0: 1, 1: 20, 2: 3}


def test_a_worker_has_a_task_at_hand_while_its_caller_is_busy(tmp_path: Path) -> None:
    mark = tmp_path / "mark"
    engine = LocalEngine(1, time_limit_s=20, memory_limit_mb=500)
    jobs = [Job("honest", 1), Job("make", 2, str(mark)), Job("honest", 3), Job("honest", 4)]
    outcomes = engine.run(work, jobs)
    assert next(outcomes).value == 10
    deadline = time.monotonic() + 60
    while not mark.exists() and time.monotonic() < deadline:
        time.sleep(0.01)
    assert mark.exists(), "nobody has asked for the second outcome yet"
    engine.close()


def test_a_large_machine_is_used_as_far_as_its_processes_can_be_waited_for() -> None:
    """WaitForMultipleObjects takes 64 at once (winnt.h), one of them the caller's own."""
    assert LocalEngine(1000, time_limit_s=20, memory_limit_mb=500).workers < 63
    assert LocalEngine(56, time_limit_s=20, memory_limit_mb=500).workers == 56


def test_few_tasks_are_done_by_the_worker_that_is_there(engine: LocalEngine) -> None:
    (first,) = engine.run(work, [Job("process_id")])
    again = list(engine.run(work, [Job("process_id", number) for number in range(2)]))
    assert [outcome.value for outcome in again] == [first.value, first.value]


def test_for_many_tasks_as_many_workers_as_may_be_are_started(engine: LocalEngine) -> None:
    list(engine.run(work, [Job("process_id")]))
    jobs = [Job("process_id", number) for number in range(8)]
    first = next(running := iter(engine.run(work, jobs)))
    assert first.failure is None
    assert engine.pool_for(len(jobs)).workers == 2
    list(running)


def test_after_many_tasks_no_worker_holds_the_memory_that_it_has_worked_in(
    engine: LocalEngine,
) -> None:
    list(engine.run(work, [Job("honest", number) for number in range(8)]))
    assert engine.is_running
    list(engine.run(work, [Job("honest", number) for number in range(9)]))
    assert not engine.is_running


def test_workers_that_began_early_do_the_work(engine: LocalEngine) -> None:
    engine.begin(get_ready, 2)
    pool = engine.pool_for(2)
    assert [outcome.value for outcome in engine.run(work, [Job("honest", 4)])] == [40]
    assert engine.pool_for(1) is pool, "no other was started"


def test_a_function_by_name_is_sent_as_itself() -> None:
    assert pickle.loads(pickle.dumps(examine_packed)) is examine.examine_packed
    length: Named[str, int] = Named("builtins:len")
    assert length("four") == 4


def test_workers_begin_early_where_nothing_can_be_known(
    engine: LocalEngine, tmp_path: Path
) -> None:
    store = tmp_path / "store.sqlite"
    for paths, remembers in (([str(tmp_path / "none")], False), ([str(tmp_path)], True)):
        store.touch()
        assert begun_engine(engine, paths, store=store, remembers=remembers) is engine
        assert not engine.is_running
    store.unlink()
    (tmp_path / "A.DNG").touch()
    begun_engine(engine, [str(tmp_path)], store=store, remembers=True)
    assert engine.is_running
