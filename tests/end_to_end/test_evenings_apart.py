"""A large shoot is concluded by several processes, and nothing of it is another record by that."""

from __future__ import annotations

import os
from collections.abc import Collection
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from auditor import evidence, spread
from auditor.advise import keepers
from auditor.conclude import Conclusions, conclude
from auditor.gather import gather
from auditor.model.facts import CardFile
from auditor.model.measurement import FrameMeasurement
from auditor.model.settings import Settings
from auditor.model.shoot import MeasurementSource, apart
from auditor.read.card import find_files
from auditor.request import AuditRequest
from auditor.store.store import Store
from tests.evening_audit import Evening, KeepingListener


@dataclass(frozen=True)
class Season:
    """The evening's frames again on other days, by another body, or by one without a clock."""

    inner: MeasurementSource
    taken: dict[str, tuple[str, int | None, str]]
    dies_at: str = ""

    def measurement(self, frame_id: str) -> FrameMeasurement:
        own, day, serial = self.taken[frame_id]
        measured, pid = self.inner.measurement(own), os.getpid()
        if self.dies_at and pid != PARENT and frame_id == self.dies_at:
            os._exit(9)
        facts = measured.facts
        moment = None
        if day is not None and facts.captured_at is not None:
            moment = (datetime.fromisoformat(facts.captured_at) + timedelta(days=day)).isoformat()
        camera = replace(facts.camera, serial=serial or facts.camera.serial)
        return replace(measured, facts=replace(facts, captured_at=moment, camera=camera))

    def apart(self, frame_ids: Collection[str]) -> Season:
        taken = {frame_id: self.taken[frame_id] for frame_id in frame_ids}
        own = apart(self.inner, [own for own, *_ in taken.values()])
        assert own is not None
        return Season(own, taken, self.dies_at)


PARENT = int(os.environ.setdefault("EVENINGS_APART_PARENT", str(os.getpid())))


@dataclass(frozen=True)
class Card:
    """Files of a season, what each of them is, and where the store keeps the evening's own."""

    files: list[CardFile]
    taken: dict[str, tuple[str, int | None, str]]
    keys: dict[str, str]


@pytest.fixture(scope="module")
def season(evening: Evening) -> Card:
    request = AuditRequest(evening.cards, evening.out, formats=(), store=evening.store)
    with Store.open(evening.store) as store:
        found = gather(find_files(evening.cards), request, store, KeepingListener())
    own = [file for file in found.found.files if file.id not in found.failures]
    files: list[CardFile] = []
    taken: dict[str, tuple[str, int | None, str]] = {}
    for part, day, serial in (("a", 0, ""), ("b", 40, ""), ("c", 41, ""), ("d", 0, "77")):
        for file in own if part == "a" else own[:20]:
            name = f"{part}/{file.id}"
            key = f"{part}-{file.content_key}"
            files.append(replace(file, id=name, file=name, content_key=key, also_at=()))
            taken[name] = (file.id, day, serial)
    for file in own[:9]:
        name = f"e/{file.id}"
        files.append(replace(file, id=name, file=name, content_key=name, also_at=()))
        taken[name] = (file.id, None, "99")
    for file in files[2:6]:  # copies on another card
        name = f"copies/{file.id}"
        files.append(replace(file, id=name, file=name, input_index=9))
        taken[name] = taken[file.id]
    return Card(files, taken, {file.id: file.content_key for file in own})


@pytest.fixture
def large(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(spread, "IN_MEMORY", 20)
    monkeypatch.setattr(spread, "APART_FROM", 20)
    monkeypatch.setattr(spread, "LEAST_FRAMES", 10)


def concluded(evening: Evening, season: Card, workers: int, dies_at: str = "") -> Conclusions:
    with Store.open(evening.store) as store:
        inner = store.measurement_source(season.keys, Settings().measure)
        source = Season(inner, season.taken, dies_at)
        return conclude(season.files, {}, source, Settings(), workers=workers)


@pytest.fixture(scope="module")
def alone(evening: Evening, season: Card) -> Conclusions:
    return concluded(evening, season, 1)


@pytest.mark.usefixtures("large")
def test_two_processes_conclude_the_same_record_for_record(
    evening: Evening,
    season: Card,
    alone: Conclusions,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def here(*_given: object, **_named: object) -> None:
        raise AssertionError("done by the process that joins")

    monkeypatch.setattr(spread, "judge_frame", here)
    monkeypatch.setattr(evidence, "unlit", here)
    monkeypatch.setattr(keepers, "contrast_of", here)
    assert concluded(evening, season, 2) == alone
    assert len({setup.started_at for setup in alone.grouping.setups}) > 6
    assert alone.grouping.siblings
    assert alone.grouping.panoramas


@pytest.mark.usefixtures("large")
def test_a_process_that_dies_costs_nothing(
    evening: Evening,
    season: Card,
    alone: Conclusions,
    capfd: pytest.CaptureFixture[str],
) -> None:
    assert concluded(evening, season, 2, dies_at=season.files[50].id) == alone
    assert "Traceback" not in "".join(capfd.readouterr())


def test_a_small_shoot_starts_no_process(
    evening: Evening,
    season: Card,
    alone: Conclusions,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def started(*_given: object, **_named: object) -> None:
        raise AssertionError("a process for a small shoot")

    monkeypatch.setattr(spread, "LocalEngine", started)
    assert concluded(evening, season, 8) == alone


@pytest.mark.usefixtures("large")
def test_where_no_process_can_be_started_it_is_done_here(
    evening: Evening,
    season: Card,
    alone: Conclusions,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def refused(*_given: object) -> None:
        raise OSError(11, "Resource temporarily unavailable")

    monkeypatch.setattr("auditor.engine.pool.Worker", refused)
    assert concluded(evening, season, 2) == alone


@pytest.mark.usefixtures("large")
def test_where_frames_lie_in_files_one_process_tells_the_same(
    evening: Evening,
    season: Card,
    alone: Conclusions,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    assert concluded(evening, season, 1) == alone
    assert not list(tmp_path.iterdir()), "nothing is left behind"
