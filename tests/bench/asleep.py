"""More workers than cores, with timed sleeps in place of decoding: what the parent takes a frame.

``python -m tests.bench.parts asleep FRAME`` lets one, two, four and eight workers, and a cluster on
this machine, answer each task with the reply of a real frame after a sleep. The parent puts each
into a store, as an audit does; its processor time is what limits how many workers it can feed.
"""

from __future__ import annotations

import pickle
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path

from auditor.engine.choose import make_engine
from auditor.examine import examine_packed
from auditor.model.facts import FileLook
from auditor.model.outcome import Engine
from auditor.model.settings import MeasureSettings
from auditor.store.store import Store
from auditor.task import Examined, ExamineTask
from tests.cluster_machines import Cluster

SLEEP_S = 0.25
FRAMES_A_WORKER = 20
WORKERS = (1, 2, 4, 8)
ON_CLUSTER = 4

Task = tuple[float, str]
"""Seconds to sleep, and the file of the reply."""


def asleep(task: Task) -> Examined:
    """Take so long as decoding would, and answer as it does."""
    time.sleep(task[0])
    return _reply(task[1])


@cache
def _reply(path: str) -> Examined:
    reply: Examined = pickle.loads(Path(path).read_bytes())
    return reply


def measure(engine: Engine, workers: int, reply: Path) -> tuple[float, float]:
    """Return the parent's processor seconds a frame, and wall seconds over the sum of sleeps."""
    settings, count = MeasureSettings(), workers * FRAMES_A_WORKER
    tasks = [(SLEEP_S, str(reply))] * count
    with Store.temporary() as store:
        list(engine.run(asleep, [(0.0, str(reply))] * (2 * workers)))
        began, clock = time.process_time(), time.perf_counter()
        for outcome in engine.run(asleep, tasks):
            assert outcome.value is not None, outcome.failure
            assert outcome.value.result is not None
            key = f"key{outcome.index}"
            store.put(key, settings, outcome.value.result)
            store.note_content(FileLook(key, outcome.value.look.ends), key)
        store.commit()
        took = time.process_time() - began, time.perf_counter() - clock
    return took[0] / count, took[1] / (FRAMES_A_WORKER * SLEEP_S)


@contextmanager
def _cluster(folder: Path) -> Iterator[str]:
    cluster = Cluster(folder)
    try:
        for _ in range(ON_CLUSTER):
            cluster.add_worker()
        yield cluster.address
    finally:
        cluster.close()


def main(frame: str) -> dict[str, float]:
    """Measure with so many workers each, and on a cluster."""
    settings, told = MeasureSettings(), {}
    with tempfile.TemporaryDirectory() as name:
        reply = Path(name) / "reply"
        reply.write_bytes(pickle.dumps(examine_packed(ExamineTask(frame, "dng", settings))))
        told["reply_mb"] = reply.stat().st_size / 1e6
        for workers in WORKERS:
            engine = make_engine(workers, None, settings)
            told[f"{workers}_cpu_s"], told[f"{workers}_wall"] = measure(engine, workers, reply)
            engine.close()
        with _cluster(Path(name)) as address:
            engine = make_engine(None, address, settings)
            told["cluster_cpu_s"], told["cluster_wall"] = measure(engine, ON_CLUSTER, reply)
            engine.close()
    return told
