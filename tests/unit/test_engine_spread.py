"""Work that is spread over workers comes back in its order, and comes to the same."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from functools import partial

import numpy as np
import pytest

from auditor import conclude as concluding
from auditor.conclude import conclude
from auditor.engine.local import LocalEngine
from auditor.engine.spread import TOGETHER, spread
from auditor.group.grouping import group_shoot
from auditor.model.errors import AuditorError
from auditor.model.outcome import Outcome, Result, Task
from auditor.model.settings import GroupSettings, Settings
from tests.judge_maker import SIDE_TILES, TILE_PX, card_file, measured_mono
from tests.memory_source import MemoryMeasurementSource
from tests.shoot_maker import GradGlass, Shoot
from tests.shoot_plans import SIX, coast

MANY = 5 * TOGETHER + 3


@pytest.fixture(scope="module")
def engine() -> Iterator[LocalEngine]:
    made = LocalEngine(2, time_limit_s=60, memory_limit_mb=2000)
    yield made
    made.close()


def where(number: int) -> tuple[int, int]:
    return number, os.getpid()


def only_here(task: tuple[int, int]) -> int:
    number, here = task
    if os.getpid() != here and number == TOGETHER:
        raise ValueError("Not in a worker.")
    return number


class NoWorkers:
    """An engine that loses its workers after the second part."""

    def run(
        self, function: Callable[[Task], Result], tasks: Sequence[Task]
    ) -> Iterator[Outcome[Result]]:
        yield Outcome(1, function(tasks[1]))
        yield Outcome(0, function(tasks[0]))
        raise AuditorError("The worker processes cannot be started.")

    def close(self) -> None:
        """There is nothing to stop."""


def test_results_come_in_the_order_of_the_work_from_other_processes(engine: LocalEngine) -> None:
    numbers, processes = zip(*spread(engine, where, range(MANY)), strict=True)
    assert numbers == tuple(range(MANY))
    assert os.getpid() not in processes


def test_what_a_worker_fails_at_is_done_here(engine: LocalEngine) -> None:
    work = [(number, os.getpid()) for number in range(MANY)]
    assert list(spread(engine, only_here, work)) == list(range(MANY))


def test_what_fails_here_too_is_raised(engine: LocalEngine) -> None:
    with pytest.raises(ValueError, match="Not in a worker"):
        list(spread(engine, only_here, [(TOGETHER, 0)]))


def test_where_there_are_no_workers_left_the_rest_is_done_here() -> None:
    assert [number for number, _ in spread(NoWorkers(), where, range(MANY))] == list(range(MANY))


def test_workers_tell_the_same_of_each_setup_to_the_last_bit(engine: LocalEngine) -> None:
    shoot = Shoot(3)
    for number in range(4):
        place, at_s = coast(number % 3), 900.0 * number
        shoot.take(place, at_s)
        shoot.take(place, at_s + 20.0, 16.0, nd=SIX)
        shoot.take(place, at_s + 60.0, 0.25, grad=GradGlass(2.0, 0.4, 0.02))
        shoot.take(place, at_s + 90.0, 0.5, orientation=8 if number == 1 else 1)
    here = group_shoot(shoot.frames, GroupSettings())
    there = group_shoot(shoot.frames, GroupSettings(), spread=partial(spread, engine))
    assert here.siblings
    assert here.grads
    assert here.rejected
    assert repr(there) == repr(here)


@pytest.mark.parametrize("worth_it", [True, False])
def test_a_shoot_of_many_frames_is_concluded_by_workers(
    engine: LocalEngine, monkeypatch: pytest.MonkeyPatch, worth_it: bool
) -> None:
    engine.close()
    monkeypatch.setattr(concluding, "WORTH_SPREADING", 2 if worth_it else 3)
    monkeypatch.setattr(concluding, "IN_MEMORY", 1)
    lit = np.random.default_rng(4).normal(3000.0, 60.0, (SIDE_TILES * TILE_PX,) * 2).round()
    files = [replace(card_file(f"A/{number}.DNG"), content_key=str(number)) for number in range(2)]
    source = MemoryMeasurementSource({file.id: measured_mono(lit) for file in files})
    there = conclude(files, {}, source, Settings(), engine=engine)
    assert engine.is_running is worth_it
    assert there == conclude(files, {}, source, Settings())
