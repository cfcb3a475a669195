"""Hot pixels of long exposures, read lightly and sorted by body and shoot."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from auditor.model.errors import FrameFailure
from auditor.model.facts import CameraFacts
from auditor.model.measurement import FrameMeasurement, HotPixels
from auditor.store.store import Store
from tests.store_frames import SETTINGS, measurement

BODY = "Brackwell F45 7"
PLACES = ((3, 4), (900, 17))


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store.open(tmp_path / "store.sqlite") as opened:
        yield opened


def long_frame(
    when: str | None, *, time_s: float | None = 30.0, serial: str = "7"
) -> FrameMeasurement:
    made = measurement(1)
    facts = replace(
        made.facts,
        camera=CameraFacts("Brackwell", "Brackwell F45", serial),
        exposure=replace(made.facts.exposure, time_s=time_s),
        captured_at=when,
    )
    hot = HotPixels(2, 0.04, np.array(PLACES, dtype=np.uint32))
    return replace(made, facts=facts, mosaic=replace(made.mosaic, hot=hot))


def test_long_exposures_come_back_with_their_places(store: Store) -> None:
    store.put("long", SETTINGS, long_frame("2031-09-14T19:30:00+01:00"))
    store.put("short", SETTINGS, long_frame("2031-09-14T19:31:00+01:00", time_s=0.5))
    store.put("unknown", SETTINGS, long_frame("2031-09-14T19:32:00+01:00", time_s=None))
    (entry,) = store.hot_places(1.0)[BODY]
    assert entry[1].tolist() == [list(place) for place in PLACES]


def test_a_night_is_one_shoot_and_the_next_evening_another(store: Store) -> None:
    for key, when in {
        "evening": "2031-09-14T23:50:00+01:00",
        "night": "2031-09-15T03:10:00+01:00",
        "next": "2031-09-15T20:00:00+01:00",
    }.items():
        store.put(key, SETTINGS, long_frame(when))
    evening, night, following = sorted(shoot for shoot, _ in store.hot_places(1.0)[BODY])
    assert evening == night
    assert following == night + 1


def test_bodies_stay_apart(store: Store) -> None:
    store.put("one", SETTINGS, long_frame("2031-09-14T19:30:00"))
    store.put("two", SETTINGS, long_frame("2031-09-14T19:30:00", serial="8"))
    assert sorted(store.hot_places(1.0)) == [BODY, "Brackwell F45 8"]


def test_a_file_measured_under_two_settings_counts_once(store: Store) -> None:
    store.put("long", SETTINGS, long_frame("2031-09-14T19:30:00"))
    store.put("long", replace(SETTINGS, preview=False), long_frame("2031-09-14T19:30:00"))
    assert len(store.hot_places(1.0)[BODY]) == 1


def test_frames_that_cannot_be_placed_in_a_shoot_are_left_out(store: Store) -> None:
    store.put("timeless", SETTINGS, long_frame(None))
    store.put("first of days", SETTINGS, long_frame("0001-01-01T00:00:00"))
    store.put("failed", SETTINGS, FrameFailure("cut-off", "The file ends too soon."))
    assert [len(frames) for frames in store.hot_places(1.0).values()] == [1]


def test_a_damaged_row_is_left_out(store: Store) -> None:
    store.put("long", SETTINGS, long_frame("2031-09-14T19:30:00"))
    store.put("other", SETTINGS, long_frame("2031-09-14T19:31:00"))
    with sqlite3.connect(store.path) as connection:
        connection.execute("UPDATE measure SET record = x'00' WHERE name = 'hot' AND frame_id = 1")
    connection.close()
    assert len(store.hot_places(1.0)[BODY]) == 1
