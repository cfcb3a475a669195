"""What is measured, each in a fresh process: ``python -m tests.bench.parts NAME ARGUMENT...``.

Prints one JSON object at the end. Processor time is this process's own, so a busy machine disturbs
little; where the clock on the wall is what counts, it says so.
"""

from __future__ import annotations

import contextlib
import json
import os
import sqlite3
import sys
import threading
import time
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import Any

Figures = dict[str, float]


def peak_mb() -> float:
    """Peak resident memory of this process alone, since it was started."""
    for line in Path("/proc/self/status").read_text(encoding="ascii").splitlines():
        if line.startswith("VmHWM"):
            return int(line.split()[1]) / 1024
    raise RuntimeError("the system does not tell")


def forget_peak() -> None:
    """Let the peak of this process be told from now on."""
    Path("/proc/self/clear_refs").write_text("5", encoding="ascii")


class AllProcesses:
    """The peak of what this process and its children hold at one time, looked at often.

    What the system tells of a child that has ended will not do: to it belongs what its parent held
    when it was started.
    """

    PAUSE_S = 0.1

    def __init__(self) -> None:
        self.peak_mb = 0.0
        self._ended = threading.Event()
        self._thread = threading.Thread(target=self._look, daemon=True)

    def __enter__(self) -> AllProcesses:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._ended.set()
        self._thread.join()

    def _look(self) -> None:
        while True:
            self.peak_mb = max(self.peak_mb, sum(map(held_mb, ("self", *_children()))))
            if self._ended.wait(self.PAUSE_S):
                return


def held_mb(process: str) -> float:
    """Resident memory of a process now; 0 of one that has ended."""
    try:
        pages = Path(f"/proc/{process}/statm").read_text(encoding="ascii").split()[1]
    except (OSError, IndexError):
        return 0.0
    return int(pages) * os.sysconf("SC_PAGESIZE") / 2**20


def _children() -> Iterator[str]:
    for one in Path("/proc/self/task").glob("*/children"):
        yield from one.read_text(encoding="ascii").split()


DISK_BLOCK = 4096
"""Bytes that a file system gives at a time (common practice)."""


def in_turns(work: Callable[[str], object]) -> Figures:
    """Work on the files named on standard input, one a line; answer each with processor seconds.

    Whoever asks lets several such processes take turns, so that they see the same machine. The
    first file is done twice, to warm everything up.
    """
    idle = peak_mb()
    for number, line in enumerate(sys.stdin):
        file = line.rstrip("\n")
        if number == 0:
            work(file)
        began = time.process_time()
        work(file)
        print(time.process_time() - began, flush=True)
    return {"peak_mb": peak_mb(), "idle_mb": idle}


def decode(_: list[str]) -> Figures:
    """LibRaw's decode alone: open, unpack, look at one pixel."""
    import rawpy

    def work(file: str) -> int:
        with rawpy.imread(file) as raw:
            return int(raw.raw_image[0, 0])

    return in_turns(work)


def examine(_: list[str], kind: str = "dng", wanted: Iterable[str] = ()) -> Figures:
    """What a worker does with a file: reading, facts, decode, all measures, packing, and more."""
    from auditor.engine.worker import prepare

    prepare()
    from auditor.examine import examine_packed
    from auditor.model.measures import all_names
    from auditor.model.settings import MeasureSettings
    from auditor.task import ExamineTask

    settings, all_wanted = MeasureSettings(), all_names().union(wanted)
    return in_turns(
        lambda file: examine_packed(ExamineTask(file, kind, settings, of_others=all_wanted))
    )


def examine_by_libraw(_: list[str]) -> Figures:
    """The same as of any other container: of those LibRaw alone decodes the pixels."""
    return examine(_, "tiff")


def examine_with_pictures(_: list[str]) -> Figures:
    """The same with the large pictures drawn in the same pass."""
    from auditor.model.large import LARGE

    return examine(_, wanted=(LARGE,))


def picture_bytes(files: list[str]) -> Figures:
    """What the large pictures of a frame take on a disk, in whole blocks; the most of some."""
    from auditor.examine import examine_packed
    from auditor.model.large import LARGE
    from auditor.model.settings import MeasureSettings
    from auditor.task import ExamineTask

    settings, wanted = MeasureSettings(), frozenset({LARGE})
    most = 0
    for file in files:
        found = examine_packed(ExamineTask(file, "dng", settings, of_others=wanted)).pictures or ()
        blocks = sum(-(-len(one.jpeg) // DISK_BLOCK) for one in found)
        most = max(most, blocks * DISK_BLOCK)
    return {"most_bytes": most}


def profile(files: list[str]) -> Figures:
    """Processor milliseconds a file of each step of a worker's work, the median over the files.

    What several measures share is counted where it is made.
    """
    from statistics import median

    from auditor.engine.worker import prepare

    prepare()
    from auditor.measures.mosaic import MosaicView
    from auditor.model.settings import MeasureSettings
    from auditor.pictures.encode import encode_pictures
    from auditor.read.content import read_content
    from auditor.read.exif import read_facts
    from auditor.read.raw import read_preview, read_raw

    took: dict[str, list[float]] = {}

    def step(name: str, work: Callable[[], Any]) -> Any:
        began = time.process_time()
        result = work()
        took.setdefault(name, []).append((time.process_time() - began) * 1e3)
        return result

    def one(file: str) -> None:
        data = step("reading and digest", lambda: read_content(file)).data
        facts = step("facts", lambda: read_facts(data, "dng"))
        step("preview", lambda: read_preview(data, 800))
        raw = step("decode", lambda: read_raw(data, "dng", facts))
        view = MosaicView(raw.mosaic, MeasureSettings())
        step("one pass: sums, histograms, hot candidates", lambda: view.counted)
        step("black, noise, pile-ups", lambda: view.settled)
        step("hot pixels", lambda: view.hot)
        step("tiles", lambda: view.over)
        step("detail", lambda: view.detail)
        step("damage", lambda: view.damage)
        step("levels apart", lambda: view.clips_apart)
        step("pictures", lambda: encode_pictures(view.rgb, None, 1))

    one(files[0])
    took.clear()
    for file in files:
        one(file)
    return {name: median(times) for name, times in took.items()}


def floors(files: list[str]) -> Figures:
    """Milliseconds that the bare array calls of the pass take, cache warm, for all of a picture.

    Of a stripe in the middle the least of many times: what no arrangement of the same calls beats.
    """
    import numpy as np

    from auditor.read.content import read_content
    from auditor.read.exif import read_facts
    from auditor.read.raw import read_raw
    from auditor.sensor.histogram import count_into

    data = read_content(files[0]).data
    pixels = read_raw(data, "dng", read_facts(data, "dng")).mosaic.pixels
    stripe = pixels[len(pixels) // 2 :][:44, : pixels.shape[1] // 4 * 4]
    own, (rows, width) = np.ascontiguousarray(stripe), stripe.shape
    inner, around = own[2:-2], (own[:-4], own[4:], own[2:-2], own[2:-2])
    limit, words = np.empty_like(inner), own.view(np.uint32)
    flags, wide = np.empty(inner.shape, np.bool_), np.empty_like(words)
    bins, tally = (own.astype(np.int32).ravel(), np.zeros(1 << 16, np.int32))
    cells = own.reshape(2, -1, 2, width)

    def hot() -> None:
        for one in around[1:]:
            np.maximum(around[0], one, out=limit)
        for _ in range(3):
            np.add(limit, inner, out=limit)
        np.greater(inner, limit, out=flags)

    calls: dict[str, tuple[Callable[[], Any], float]] = {
        "read once": (pixels.max, 1.0),
        "largest": (lambda: cells.max(axis=1), len(pixels) / rows),
        "added": (lambda: cells[:, :4].sum(axis=1, dtype=np.uint16), 11 / 4 * len(pixels) / rows),
        "pairs taken apart": (lambda: np.right_shift(words, 16, out=wide), 2 * len(pixels) / rows),
        "counted": (lambda: count_into(tally, bins), len(pixels) / rows),
        "held against four neighbours": (hot, len(pixels) / len(inner)),
    }
    least: Figures = {}
    for name, (call, times) in calls.items():
        for _ in range(60):
            began = time.process_time()
            call()
            took = (time.process_time() - began) * 1e3 * times
            least[name] = min(took, least.get(name, took))
    return least


def pool(_: list[str]) -> Figures:
    """Memory that the pool of processes takes in each of them before anything is done."""
    bare = peak_mb()
    from auditor.engine import pool as loaded

    assert loaded
    return {"pool_mb": peak_mb() - bare}


def keep(files: list[str]) -> Figures:
    """What the parent does with a measurement: unpack the reply and put it into the store."""
    import pickle

    from auditor.examine import examine_packed
    from auditor.model.facts import FileLook
    from auditor.model.settings import MeasureSettings
    from auditor.store.store import Store
    from auditor.task import ExamineTask

    settings = MeasureSettings()
    tasks = [ExamineTask(file, "dng", settings) for file in files]
    replies = [pickle.dumps(examine_packed(task), protocol=5) for task in tasks]
    with Store.temporary() as store:

        def work(number: int) -> None:
            read = pickle.loads(replies[number % len(replies)])
            store.put(f"key{number}", settings, read.result)
            store.note_content(FileLook(f"{number}", read.look.ends), f"key{number}")

        work(0)
        store.commit()
        empty, began = _pages_bytes(store.path), time.process_time()
        for number in range(1, 25):
            work(number)
        took = (time.process_time() - began) / 24
        store.commit()
        stored = _pages_bytes(store.path) - empty
    return {"cpu_s": took, "reply_mb": len(replies[0]) / 1e6, "stored_mb": stored / 24e6}


def _pages_bytes(database: Path) -> int:
    """Return what a database takes, with what its journal still holds of it."""
    with contextlib.closing(sqlite3.connect(database)) as connection:
        (pages,), (size,) = (
            connection.execute(f"PRAGMA {name}").fetchone() for name in ("page_count", "page_size")
        )
    return int(pages) * int(size)


def spread(arguments: list[str]) -> Figures:
    """Wall seconds a file with so many workers, once they are warm; outcomes go to a store."""
    from auditor.engine.local import LocalEngine
    from auditor.examine import examine_packed
    from auditor.model.settings import MeasureSettings
    from auditor.store.store import Store
    from auditor.task import ExamineTask

    workers, files = int(arguments[0]), arguments[1:]
    settings = MeasureSettings()
    engine = LocalEngine(workers, settings.time_limit_s, settings.memory_limit_mb)
    tasks = [ExamineTask(file, "dng", settings) for file in files]
    with Store.temporary() as store:
        list(engine.run(examine_packed, tasks[: 2 * workers]))
        began = time.perf_counter()
        for outcome in engine.run(examine_packed, tasks):
            assert outcome.value is not None, outcome.failure
            assert outcome.value.result is not None
            store.put(f"key{outcome.index}", settings, outcome.value.result)
        took = time.perf_counter() - began
    engine.close()
    return {"wall_s": took / len(files)}


def asleep(arguments: list[str]) -> Figures:
    """More workers than cores, with sleeps in place of decoding."""
    from tests.bench.asleep import main

    return main(arguments[0])


def known(arguments: list[str]) -> Figures:
    """Audit known cards anew with JSON alone and with the default formats, workers included.

    The card is audited in both ways before; told is what the same call costs once more.
    """
    from auditor.audit import run_audit
    from auditor.request import AuditRequest
    from tests.evening_audit import KeepingListener

    folder, cards = Path(arguments[0]), tuple(arguments[1:])
    folder.mkdir(exist_ok=True)
    figures: Figures = {}
    for name, formats in (("json", ("json",)), ("default", ("html", "png", "json", "csv"))):
        request = AuditRequest(cards, folder / name, formats=formats, store=folder / "s.sqlite")
        run_audit(request, KeepingListener())
        began, cpu = time.perf_counter(), all_cpu_s()
        end = run_audit(request, KeepingListener())
        figures["frames"] = count = len(end.audit.frames)
        figures[f"{name}_wall_s"] = (time.perf_counter() - began) / count
        figures[f"{name}_cpu_s"] = (all_cpu_s() - cpu) / count
    return figures


def many(arguments: list[str]) -> Figures:
    """Conclude and write so many synthetic frames, in so many processes."""
    from tests.bench.many_frames import main

    return main(*map(int, arguments))


def all_cpu_s() -> float:
    """Processor seconds of this process and of its workers that have ended."""
    used = os.times()
    return used.user + used.system + used.children_user + used.children_system


PARTS: dict[str, Callable[[list[str]], Any]] = {
    "decode": decode,
    "examine": examine,
    "examine-by-libraw": examine_by_libraw,
    "examine-with-pictures": examine_with_pictures,
    "picture-bytes": picture_bytes,
    "profile": profile,
    "floors": floors,
    "pool": pool,
    "keep": keep,
    "spread": spread,
    "asleep": asleep,
    "known": known,
    "many": many,
}

if __name__ == "__main__":
    print(json.dumps(PARTS[sys.argv[1]](sys.argv[2:])))
