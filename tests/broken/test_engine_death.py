"""Workers that really die, hang and eat memory: only their own tasks are lost."""

from __future__ import annotations

import errno
import os
import random
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from multiprocessing import active_children
from pathlib import Path
from typing import NoReturn

import pytest

from auditor.engine.failures import Limits
from auditor.engine.local import LocalEngine
from auditor.engine.pool import Worker
from auditor.model.errors import AuditorError, FrameFailure
from auditor.model.outcome import Outcome
from tests.engine_work import Job, loop, vanish, work

ROOT = Path(__file__).parents[2]


def run_among_honest(
    *bad: Job, time_limit_s: float = 20, memory_limit_mb: int = 160
) -> list[FrameFailure | int]:
    """Put the bad jobs amid honest ones; check the honest, return the ends of the bad."""
    jobs = [Job("slow", number) for number in range(6)] + list(bad)
    jobs += [Job("slow", number) for number in range(len(jobs), len(jobs) + 6)]
    engine = LocalEngine(2, time_limit_s, memory_limit_mb)
    ended = {outcome.index: outcome for outcome in engine.run(work, jobs)}
    engine.close()
    assert sorted(ended) == list(range(len(jobs)))
    for index, job in enumerate(jobs):
        if job not in bad:
            assert ended[index] == Outcome(index, 10 * job.number)
    return [_end(ended[6 + place]) for place in range(len(bad))]


def _end(outcome: Outcome[int]) -> FrameFailure | int:
    return outcome.failure or outcome.value or 0


def codes(ends: list[FrameFailure | int]) -> list[str]:
    return [end.code if isinstance(end, FrameFailure) else "value" for end in ends]


def test_a_segmentation_fault_costs_one_task() -> None:
    (end,) = run_among_honest(Job("segfault"))
    assert isinstance(end, FrameFailure)
    assert end.code == "worker-died"
    assert "SIGSEGV" in end.message


def test_many_crashes_cost_as_many_tasks() -> None:
    ends = run_among_honest(Job("segfault", 1), Job("vanish", 2), Job("segfault", 3))
    assert codes(ends) == ["worker-died"] * 3


def test_a_loop_is_ended_by_the_time_limit_even_inside_one_c_call() -> None:
    ends = run_among_honest(Job("loop"), Job("stuck_in_c"), time_limit_s=6)
    assert codes(ends) == ["timed-out", "timed-out"]


@pytest.mark.skipif(not hasattr(signal, "SIGSTOP"), reason="no process can be stopped here")
def test_a_worker_stopped_in_the_middle_of_its_reply_is_ended_by_the_time_limit() -> None:
    engine = LocalEngine(1, time_limit_s=2, memory_limit_mb=500)
    jobs = [Job("honest", 1), Job("zeros", 8_000_000), Job("honest", 3)]
    outcomes = engine.run(work, jobs)
    assert next(outcomes).value == 10
    (worker,) = engine.pool_for(1)._staff
    assert worker.replies.poll(60.0), "its large reply has begun, and no pipe takes all of it"
    (process,) = active_children()
    assert process.pid is not None
    os.kill(process.pid, signal.SIGSTOP)
    stopped, last = outcomes
    assert stopped.failure is not None
    assert stopped.failure.code == "timed-out"
    assert last.value == 30
    engine.close()


def test_eating_memory_meets_the_ceiling() -> None:
    ends = run_among_honest(Job("eat"), Job("eat_bit_by_bit"), Job("huge_answer"), Job("big", 9))
    assert codes(ends) == ["out-of-memory", "out-of-memory", "out-of-memory", "value"]
    assert ends[-1] == 90


def test_a_worker_killed_from_outside_costs_nothing(tmp_path: Path) -> None:
    assert run_among_honest(Job("killed_once", 5, str(tmp_path / "mark"))) == [50]


def test_many_failed_starts_one_after_another_are_no_reason_to_give_up(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    engine, calls = LocalEngine(1, 20, 160, tasks_per_worker=2), iter(range(100))

    def now_and_then(limits: Limits) -> Worker:
        if next(calls) % 2:
            raise OSError(errno.EAGAIN, "no room")
        return Worker(limits)

    monkeypatch.setattr("auditor.engine.pool.MOST_FAILED_STARTS", 1)
    monkeypatch.setattr("auditor.engine.pool.Worker", now_and_then)
    jobs = [Job("honest", number) for number in range(7)]
    assert sorted(outcome.index for outcome in engine.run(work, jobs)) == list(range(7))
    engine.close()


def test_a_task_killed_from_outside_twice_is_given_up() -> None:
    (end,) = run_among_honest(Job("killed_always"))
    assert isinstance(end, FrameFailure)
    assert end.code == "worker-died"
    assert "SIGKILL" in end.message


def test_workers_killed_at_random_moments_cost_nothing() -> None:
    engine = LocalEngine(2, time_limit_s=20, memory_limit_mb=500)
    chance = random.Random(3)
    outcomes = []
    for outcome in engine.run(work, [Job("slow", number) for number in range(60)]):
        outcomes.append(outcome)
        if len(outcomes) % 12 == 0:
            time.sleep(0.1 * chance.random())
            for child in active_children()[:1]:
                child.kill()
    engine.close()
    assert sorted(outcome.index for outcome in outcomes) == list(range(60))
    lost = [outcome for outcome in outcomes if outcome.failure]
    # Killed twice over by bad luck is allowed, and must then be told as what it was.
    assert all(outcome.failure and outcome.failure.code == "worker-died" for outcome in lost)
    assert len(lost) <= 1


def test_workers_that_cannot_start_are_told_rather_than_waited_for(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("auditor.engine.pool.serve", vanish)
    engine = LocalEngine(2, time_limit_s=20, memory_limit_mb=500)
    with pytest.raises(AuditorError, match="cannot be started"):
        list(engine.run(work, [Job("honest")]))


def test_workers_that_never_start_are_given_up(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("auditor.engine.pool.serve", loop)
    monkeypatch.setattr("auditor.engine.pool.MOST_FAILED_STARTS", 1)
    monkeypatch.setattr(Limits, "patience_s", 0.2)
    engine = LocalEngine(1, time_limit_s=20, memory_limit_mb=500)
    with pytest.raises(AuditorError, match="cannot be started"):
        list(engine.run(work, [Job("honest")]))
    engine.close()


def test_a_machine_without_room_for_workers_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    tried = []

    def no_pipes(*, duplex: bool) -> NoReturn:
        tried.append(duplex)
        raise OSError(errno.EMFILE, os.strerror(errno.EMFILE))

    monkeypatch.setattr("auditor.engine.pool.Pipe", no_pipes)
    engine = LocalEngine(2, time_limit_s=20, memory_limit_mb=500)
    with pytest.raises(AuditorError, match="cannot be started"):
        list(engine.run(work, [Job("honest")]))
    assert len(tried) == 6, "five may fail one after another"


LONG_RUN = """
import signal
from auditor.engine.local import LocalEngine
from tests.engine_work import Job, work

if __name__ == "__main__":
    # a suite run in the background hands the key down as ignored
    signal.signal(signal.SIGINT, signal.default_int_handler)
    engine = LocalEngine(2, 60, 500)
    taken = 0
    jobs = [Job("slow", number) for number in range(100000)] + [Job("loop")]
    try:
        for outcome in engine.run(work, [Job("process_id")] * 2 + jobs):
            taken += 1
            print("pid" if outcome.index < 2 else "value", outcome.value, flush=True)
    except KeyboardInterrupt:
        engine.close()
        print("stopped", taken, flush=True)
"""


@contextmanager
def long_run(tmp_path: Path) -> Iterator[tuple[subprocess.Popen[str], list[int]]]:
    """Start a run that never ends by itself; give it and its workers' process numbers."""
    script = tmp_path / "long_run.py"
    script.write_text(LONG_RUN, encoding="utf-8")
    with subprocess.Popen(
        [sys.executable, str(script)],
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    ) as running:
        try:
            assert running.stdout is not None
            lines = [running.stdout.readline().split() for _ in range(8)]
            yield running, [int(number) for what, number in lines if what == "pid"]
        finally:
            running.kill()


def is_alive(pid: int) -> bool:
    try:
        state = Path(f"/proc/{pid}/stat").read_text(encoding="ascii").rsplit(")", 1)[1].split()[0]
    except OSError:
        return False
    return state != "Z"


def test_the_interrupt_key_stops_quickly_and_quietly(tmp_path: Path) -> None:
    with long_run(tmp_path) as (running, workers):
        os.killpg(running.pid, signal.SIGINT)  # a terminal sends it to the whole group
        out, err = running.communicate(timeout=120)  # by itself it goes on for hours
    assert out.splitlines()[-1].startswith("stopped")
    assert err == ""
    assert running.returncode == 0
    assert workers
    assert not any(is_alive(pid) for pid in workers)


def test_workers_do_not_outlive_a_killed_parent(tmp_path: Path) -> None:
    with long_run(tmp_path) as (running, workers):
        running.kill()
        running.communicate(timeout=120)
    assert workers
    deadline = time.monotonic() + 60
    while any(is_alive(pid) for pid in workers) and time.monotonic() < deadline:
        time.sleep(0.05)
    assert not any(is_alive(pid) for pid in workers)
