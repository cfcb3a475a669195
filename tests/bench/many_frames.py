"""Years of evenings in one audit: what it takes to conclude and to write, a frame.

Measurements are those of a sample evening, dated a day on for each repeat; nothing is decoded. One
process concludes, or as many as are named; one writes::

    python -m tests.bench.many_frames 20000 2
"""

from __future__ import annotations

import json
import pickle
import shutil
import sys
import tempfile
import time
from collections.abc import Collection, Iterator
from contextlib import closing
from dataclasses import fields, replace
from datetime import datetime, timedelta
from functools import cache
from pathlib import Path

from auditor.__main__ import collect_seldom
from auditor.audit import run_audit
from auditor.conclude import Conclusions, conclude
from auditor.engine.choose import make_engine
from auditor.gather import gather
from auditor.model.audit import SCHEMA_VERSION, Audit
from auditor.model.facts import CardFile, FileFacts
from auditor.model.measurement import FrameMeasurement
from auditor.model.settings import Settings
from auditor.read.card import find_files
from auditor.report.desk import Desk
from auditor.report.record import FolderRecord
from auditor.report.write import ReportJob, write_reports
from auditor.request import AuditRequest
from auditor.store.store import Store
from auditor.words.kinds import KINDS
from sample_generation.shoots import make_shoot
from tests.bench.parts import AllProcesses, all_cpu_s, forget_peak, peak_mb
from tests.bench.runs import ROOT
from tests.evening_audit import KeepingListener

REPORTS = ("json", "csv", "md", "html")
EVENING = ROOT / "reports" / "bench-frames" / "many"
PICKLED = EVENING / "measured.pickle"
MEGAPIXELS = 1.5
"""From here on maps have as many tiles as those of the largest frames; decoding takes less."""


class Repeated:
    """A source of an evening that comes again day after day."""

    def __init__(self, count: int) -> None:
        self._evening = known_evening()
        self.files = [self._file(number) for number in range(count)]

    def apart(self, _frame_ids: Collection[str]) -> Days:
        """Return what other processes fetch for themselves from the evening's store."""
        return Days()

    def _file(self, number: int) -> CardFile:
        file = self._evening[number % len(self._evening)][0]
        name = f"{number:06d}-{file.file.rpartition('/')[2]}"
        return replace(file, id=name, file=name, content_key=name, also_at=())

    def measurement(self, frame_id: str) -> FrameMeasurement:
        """Return the measurement of a frame."""
        return Days().measurement(frame_id)


class Days:
    """The measurements of an evening that comes again day after day."""

    def measurement(self, frame_id: str) -> FrameMeasurement:
        """Return the measurement of a frame, as a store would: made anew at each call."""
        evening = kept_evening()
        day, place = divmod(int(frame_id[:6]), len(evening))
        measured = evening[place][1]
        return replace(measured, facts=_later(measured.facts, day))


@cache
def known_evening() -> list[tuple[CardFile, FrameMeasurement]]:
    """Measure the evening, and keep it where other processes find it."""
    PICKLED.write_bytes(pickle.dumps(list(measured_evening(EVENING))))
    return kept_evening()


@cache
def kept_evening() -> list[tuple[CardFile, FrameMeasurement]]:
    evening: list[tuple[CardFile, FrameMeasurement]] = pickle.loads(PICKLED.read_bytes())
    return evening


def _later(facts: FileFacts, days: int) -> FileFacts:
    if facts.captured_at is None:
        return facts
    moment = datetime.fromisoformat(facts.captured_at) + timedelta(days=days)
    return replace(facts, captured_at=moment.isoformat())


def measured_evening(folder: Path) -> Iterator[tuple[CardFile, FrameMeasurement]]:
    """Measure a small sample evening, made once and kept; yield its whole frames."""
    if not (folder / "shoot" / "truth.json").exists():
        shutil.rmtree(folder / "shoot", ignore_errors=True)
        make_shoot("evening", folder / "shoot", megapixels=MEGAPIXELS, seed=7, workers=2)
    cards = tuple(str(path) for path in sorted((folder / "shoot").iterdir()) if path.is_dir())
    request = AuditRequest(cards, folder / "out", formats=("json",), store=folder / "s.sqlite")
    run_audit(request, KeepingListener())
    with Store.open(request.store) as store:
        for file in gather(find_files(cards), request, store, KeepingListener()).found.files:
            measured = store.get(file.content_key, request.settings.measure)
            if isinstance(measured, FrameMeasurement) and not file.also_at:
                yield file, measured


def audit_of(done: Conclusions, settings: Settings) -> Audit:
    """Put conclusions into an audit, as the story of an audit does."""
    bare = Audit(SCHEMA_VERSION, "bench", "2031-09-15T09:00:00+01:00", settings, ("bench",), ())
    held = {field.name for field in fields(Audit)}
    concluded = {
        field.name: getattr(part, field.name)
        for part in (done.grouping, done)
        for field in fields(part)
        if field.name in held
    }
    return replace(bare, **concluded)


def main(count: int, workers: int = 1) -> dict[str, float]:
    """Conclude and write so many frames; tell processor seconds, and megabytes above the start."""
    collect_seldom()  # as the command does
    measurements = Repeated(count)
    # libraries that are loaded late are no frame's: one evening is concluded before it counts
    conclude(measurements.files[: len(known_evening())], {}, measurements, Settings())
    forget_peak()
    settings = Settings()
    with tempfile.TemporaryDirectory() as name, AllProcesses() as processes:
        folder = Path(name)
        idle_mb, before, clock = peak_mb(), all_cpu_s(), time.perf_counter()
        began = time.process_time()
        done = conclude(measurements.files, {}, measurements, settings, workers=workers)
        audit = audit_of(done, settings)
        conclude_s = all_cpu_s() - before
        told = {"frames": float(count), "conclude_s": conclude_s}
        told["conclude_here_s"] = time.process_time() - began
        told["conclude_wall_s"] = time.perf_counter() - clock
        told["conclude_mb"] = peak_mb() - idle_mb
        job = ReportJob(audit, measurements, KINDS)
        with closing(make_engine(workers, None, settings.measure)) as engine:
            for report in REPORTS:
                before = all_cpu_s()
                desk = Desk(FolderRecord(folder), engine=engine if workers > 1 else None)
                write_reports(job, (report,), desk)
                engine.close()  # what its processes took is told when they have ended
                told[f"{report}_s"] = all_cpu_s() - before
                told[f"{report}_mb"] = peak_mb() - idle_mb
        told["all_s"] = conclude_s + sum(told[f"{report}_s"] for report in REPORTS)
        told["write_wall_s"] = time.perf_counter() - clock - told["conclude_wall_s"]
        told["all_wall_s"] = time.perf_counter() - clock
    return told | {"all_mb": processes.peak_mb}


if __name__ == "__main__":
    told = main(*map(int, sys.argv[1:]))
    print(json.dumps({name: round(value, 1) for name, value in told.items()}))
