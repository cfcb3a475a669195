"""What the store keeps of files, and when it believes it again."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest

from auditor.model.errors import FAILURE_CODES, FailureKind, FrameFailure
from auditor.model.measurement import MEASUREMENT_VERSION, FrameMeasurement
from auditor.store.gallery import MemoryGallery, StoreGallery
from auditor.store.packing import pack_measurement
from auditor.store.store import Store, default_path
from tests.store_frames import CUT_OFF, SETTINGS, measurement, same


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store.open(tmp_path / "store.sqlite") as opened:
        yield opened


def test_a_measurement_is_found_again_by_another_opening(store: Store) -> None:
    store.put("key", SETTINGS, measurement(1))
    with Store.open(store.path) as other:
        assert same(other.get("key", SETTINGS), measurement(1))
        assert other.known("key", SETTINGS) == "measured"


def test_nothing_is_known_of_other_content(store: Store) -> None:
    store.put("key", SETTINGS, measurement(1))
    assert store.get("other", SETTINGS) is None
    assert store.known("other", SETTINGS) is None


def test_measuring_settings_count_and_limits_do_not(store: Store) -> None:
    store.put("key", SETTINGS, measurement(1))
    assert store.get("key", replace(SETTINGS, preview=False)) is None
    assert store.known("key", replace(SETTINGS, time_limit_s=1.0, memory_limit_mb=9)) == "measured"


def test_a_measurement_of_an_older_version_is_ignored_and_replaced(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    store.put("key", SETTINGS, measurement(1))
    monkeypatch.setattr("auditor.store.measurements.MEASUREMENT_VERSION", MEASUREMENT_VERSION + 1)
    assert store.get("key", SETTINGS) is None
    store.put("key", SETTINGS, measurement(2))
    assert same(store.get("key", SETTINGS), measurement(2))


def test_a_later_result_takes_the_place_of_an_earlier(store: Store) -> None:
    store.put("key", SETTINGS, CUT_OFF)
    assert store.get("key", SETTINGS) == CUT_OFF
    store.put("key", SETTINGS, measurement(1))
    assert store.known("key", SETTINGS) == "measured"
    store.put("key", SETTINGS, CUT_OFF)
    assert store.known("key", SETTINGS) == CUT_OFF
    assert store.verify() == []


def test_a_measurement_packed_ahead_is_kept_the_same(store: Store) -> None:
    store.put("key", SETTINGS, pack_measurement(measurement(1)))
    assert same(store.get("key", SETTINGS), measurement(1))


def test_light_reading_leaves_the_heavy_parts_lying(store: Store) -> None:
    store.put("key", SETTINGS, measurement(1))
    light = store.get("key", SETTINGS, parts=frozenset({"rest", "histograms"}))
    assert isinstance(light, FrameMeasurement)
    assert same(light.mosaic.planes, measurement(1).mosaic.planes)
    assert light.mosaic.maps.mean_dn.size == 0
    assert light.pictures.thumb == b""


@pytest.mark.parametrize("code", sorted(FAILURE_CODES))
def test_only_failures_of_the_content_are_kept(store: Store, code: str) -> None:
    failure = FrameFailure(code, "Why.")
    store.put("key", SETTINGS, failure)
    lasting = failure.kind in (FailureKind.DAMAGED, FailureKind.UNSUPPORTED)
    assert store.get("key", SETTINGS) == (failure if lasting else None)


def test_a_newer_decoder_gives_a_file_another_chance(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    store.put("key", SETTINGS, CUT_OFF)
    monkeypatch.setattr("auditor.store.keys.made_by", lambda: "another")
    assert store.known("key", SETTINGS) is None


def test_the_gallery_fetches_by_frame_and_keeps_the_last_ones(store: Store) -> None:
    store.put("key", SETTINGS, measurement(1))
    gallery = store.gallery({"a.dng": "key", "b.dng": "absent"}, SETTINGS)
    first = gallery.measurement("a.dng")
    assert same(first, measurement(1))
    assert gallery.measurement("a.dng") is first
    assert same(gallery.without_maps("a.dng").mosaic.planes, first.mosaic.planes)
    for frame in ("b.dng", "c.dng"):
        with pytest.raises(KeyError):
            gallery.measurement(frame)


def test_a_gallery_holds_no_more_than_it_has_room_for() -> None:
    asked: list[str] = []

    def fetch(frame_id: str, parts: frozenset[str]) -> FrameMeasurement:
        asked.append(frame_id)
        return measurement(int(frame_id))

    gallery = StoreGallery(fetch, at_hand=2)
    for frame in ("1", "2", "1", "3", "1", "2"):
        gallery.measurement(frame)
    assert asked == ["1", "2", "3", "2"]


def test_a_memory_gallery_gives_what_it_was_given() -> None:
    measured = measurement(1)
    gallery = MemoryGallery({"a": measured})
    assert gallery.measurement("a") is measured
    with pytest.raises(KeyError):
        gallery.measurement("b")


def test_levels_are_remembered_by_body_iso_and_depth(store: Store) -> None:
    for number, iso in ((1, 100.0), (2, 100.0), (3, 400.0)):
        store.put(f"key{number}", SETTINGS, replace_serial(measurement(number, iso=iso)))
    store.put("plain", SETTINGS, replace_serial(measurement(9, clipped=False)))
    levels = store.level_history().levels
    body = ("Brackwell", "Brackwell F45", "F45-1")
    assert levels[(*body, 100.0, 14, "G1")] == ((15873.25, 15866.0), (15872.25, 15866.0))
    assert levels[(*body, 400.0, 14, "B")] == ((15874.25, 15866.0),)
    assert levels.get((*body, 800.0, 14, "B"), ()) == ()
    assert len(levels) == 8
    store.put("key3", SETTINGS, CUT_OFF)
    assert (*body, 400.0, 14, "B") not in store.level_history().levels


def test_levels_of_an_older_way_of_measuring_are_let_go(store: Store) -> None:
    store.put("key", SETTINGS, measurement(1))
    assert len(store.level_history().levels) > 0
    keys = tuple(store.level_history().levels)
    with closing(sqlite3.connect(store.path)) as connection, connection:
        connection.execute("UPDATE measurement SET version = version - 1")
    levels = store.level_history().levels
    assert list(levels) == []
    assert [levels.get(key) for key in keys] == [None] * len(keys)


def replace_serial(measured: FrameMeasurement) -> FrameMeasurement:
    camera = replace(measured.facts.camera, serial="F45-1")
    return replace(measured, facts=replace(measured.facts, camera=camera))


def test_texts_that_have_no_encoding_are_kept_and_found(store: Store) -> None:
    measured = measurement(1)
    camera = replace(measured.facts.camera, model="F45 \udcff\x00'; --")
    measured = replace(measured, facts=replace(measured.facts, camera=camera))
    store.put("key", SETTINGS, measured)
    store.put("bad", SETTINGS, FrameFailure("not-raw", "name \udcff"))
    read = store.get("key", SETTINGS)
    assert isinstance(read, FrameMeasurement)
    assert read.facts.camera == camera
    key = (camera.make, camera.model, camera.serial, 100.0, 14, "R")
    assert store.level_history().levels[key]  # type: ignore[index]


def test_a_temporary_store_works_and_leaves_nothing_behind() -> None:
    with Store.temporary() as store:
        store.put("key", SETTINGS, measurement(1))
        assert store.known("key", SETTINGS) == "measured"
        folder = store.path.parent
        assert folder.is_dir()
    assert not folder.exists()


def test_the_users_own_store_lies_in_the_data_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    monkeypatch.setenv("HOME", str(tmp_path))
    assert default_path().is_relative_to(tmp_path)
    with Store.open() as store:
        assert store.path == default_path()
    assert default_path().is_file()
