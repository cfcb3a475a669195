"""What the store keeps of files, and when it believes it again."""

from __future__ import annotations

import pickle
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest

from auditor.clipping.settle import clip_evidence
from auditor.model.errors import FailureKind, FileFailure, FrameFailure
from auditor.model.facts import CameraFacts, ExposureFacts, FileFacts
from auditor.model.measurement import FrameMeasurement
from auditor.model.measures import MEASURES, all_names, values_of
from auditor.model.shoot import MeasurementLost, apart, without_maps
from auditor.store.database import checksum, default_path
from auditor.store.frames import StoreMeasurementSource
from auditor.store.packing import pack_measurement, pack_values
from auditor.store.store import Store, StoreApart
from auditor.words.unread import FAILURE_CODES
from tests.memory_source import MemoryMeasurementSource
from tests.store_frames import CUT_OFF, SETTINGS, measurement, same

SENSOR = clip_evidence(measurement(1)).sensor


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store.open(tmp_path / "store.sqlite") as opened:
        yield opened


def test_a_measurement_is_found_again_by_another_opening(store: Store) -> None:
    store.put("key", SETTINGS, measurement(1))
    with Store.open(store.path) as other:
        assert same(other.get("key", SETTINGS), measurement(1))
        assert other.missing("key", SETTINGS) == frozenset()


def test_nothing_is_known_of_other_content(store: Store) -> None:
    store.put("key", SETTINGS, measurement(1))
    assert store.get("other", SETTINGS) is None
    assert store.missing("other", SETTINGS) == all_names()


def test_measuring_settings_count_and_limits_do_not(store: Store) -> None:
    store.put("key", SETTINGS, measurement(1))
    assert store.get("key", replace(SETTINGS, preview=False)) is None
    limits = replace(SETTINGS, time_limit_s=1.0, memory_limit_mb=9)
    assert store.missing("key", limits) == frozenset()


def raised(monkeypatch: pytest.MonkeyPatch, name: str) -> None:
    """Raise the version of one measure."""
    table = tuple(replace(m, version=m.version + (m.name == name)) for m in MEASURES)
    for module in ("auditor.model.measures", "auditor.store.frames"):
        monkeypatch.setattr(f"{module}.MEASURES", table)


def test_only_the_measure_whose_version_was_raised_is_missing_and_replaced(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    store.put("key", SETTINGS, measurement(1))
    before = rows(store)
    raised(monkeypatch, "damage")
    assert store.missing("key", SETTINGS) == frozenset({"damage"})
    assert store.get("key", SETTINGS) is None
    other = measurement(2)
    other = replace(other, mosaic=replace(other.mosaic, damage=()))
    packed = pack_values(values_of(other), ["damage"])
    store.put("key", SETTINGS, packed)
    whole = measurement(1)
    wanted = replace(whole, mosaic=replace(whole.mosaic, damage=()))
    assert same(store.get("key", SETTINGS), wanted)
    after = rows(store)
    assert {name for name in after if after[name] != before[name]} == {"damage"}


def rows(store: Store) -> dict[str, int]:
    """Return the row of each measure: a new one each time that it is kept."""
    with closing(sqlite3.connect(store.path)) as connection:
        return dict(connection.execute("SELECT name, id FROM measure").fetchall())


def test_a_later_result_takes_the_place_of_an_earlier(store: Store) -> None:
    store.put("key", SETTINGS, CUT_OFF)
    assert store.get("key", SETTINGS) == CUT_OFF
    store.put("key", SETTINGS, measurement(1))
    assert store.missing("key", SETTINGS) == frozenset()
    store.put("key", SETTINGS, CUT_OFF)
    assert store.missing("key", SETTINGS) == CUT_OFF
    assert store.verify() == []


def test_a_measurement_packed_ahead_is_kept_the_same(store: Store) -> None:
    store.put("key", SETTINGS, pack_measurement(measurement(1)))
    assert same(store.get("key", SETTINGS), measurement(1))


def test_without_its_maps_a_measurement_tells_all_that_settling_needs(store: Store) -> None:
    whole = measurement(1)
    store.put("key", SETTINGS, whole)
    light = without_maps(store.measurement_source({"a.dng": "key"}, SETTINGS), "a.dng")
    assert same(light.mosaic.planes, whole.mosaic.planes)
    assert same(light.mosaic.hot, whole.mosaic.hot)
    assert clip_evidence(light) == clip_evidence(whole)
    assert (light.mosaic.maps.mean_dn.size, light.pictures.thumb) == (0, b"")
    assert without_maps(MemoryMeasurementSource({"a.dng": whole}), "a.dng") is whole


def test_a_source_sent_elsewhere_gives_the_same_with_maps_and_without(store: Store) -> None:
    whole = measurement(1)
    store.put("key", SETTINGS, whole)
    source = store.measurement_source({"a.dng": "key", "b.dng": "absent"}, SETTINGS)
    sent: StoreApart = pickle.loads(pickle.dumps(apart(source, ["a.dng", "b.dng"])))
    assert isinstance(sent, StoreApart)
    assert same(sent.measurement("a.dng"), whole)
    assert same(without_maps(sent, "a.dng"), without_maps(source, "a.dng"))
    assert without_maps(sent, "a.dng").mosaic.maps.mean_dn.size == 0
    for fetched in (sent.measurement, sent.without_maps):
        with pytest.raises(MeasurementLost, match=r"b\.dng"):
            fetched("b.dng")
        with pytest.raises(KeyError):
            fetched("c.dng")


def test_what_a_file_says_of_itself_is_read_without_the_rest(store: Store) -> None:
    store.put("key", SETTINGS, measurement(1))
    assert store.facts("key", SETTINGS) == measurement(1).facts
    assert store.facts("other", SETTINGS) is None


def test_what_a_header_told_is_kept_with_the_failure(store: Store) -> None:
    facts = FileFacts(
        camera=CameraFacts("Brackwell", "Brackwell F45", "7"),
        exposure=ExposureFacts(time_s=1 / 64, f_number=11.31, iso=100.0),
        captured_at="2031-03-14T18:04:09.37+01:00",
    )
    failure = FileFailure("unsupported", "Why.", facts)
    store.put("key", SETTINGS, failure)
    assert store.get("key", SETTINGS) == failure


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
    monkeypatch.setattr("auditor.store.contents.made_by", lambda: "another")
    assert store.missing("key", SETTINGS) == all_names()


def test_the_gallery_fetches_by_frame_and_keeps_the_last_ones(store: Store) -> None:
    store.put("key", SETTINGS, measurement(1))
    measurements = store.measurement_source({"a.dng": "key", "b.dng": "absent"}, SETTINGS)
    first = measurements.measurement("a.dng")
    assert same(first, measurement(1))
    assert measurements.measurement("a.dng") is first
    assert measurements.without_maps("a.dng") is first
    with pytest.raises(MeasurementLost):
        measurements.measurement("b.dng")
    with pytest.raises(KeyError):
        measurements.measurement("c.dng")


def test_records_of_another_shape_are_let_go_of_all_frames_at_once(store: Store) -> None:
    keys = {f"{number}.dng": f"key{number}" for number in range(5)}
    for number, key in enumerate(keys.values()):
        store.put(key, SETTINGS, measurement(number))
    with closing(sqlite3.connect(store.path)) as other, other:
        for row_id, *kept_under, version in other.execute(
            """SELECT measure.id, content_key, settings_key, version FROM measure
            JOIN frame ON frame.id = frame_id WHERE name = 'hot'"""
        ).fetchall():
            told = checksum(*kept_under, "hot", version, b"\x00other")
            values = (b"\x00other", told, row_id)
            other.execute("UPDATE measure SET record = ?, checksum = ? WHERE id = ?", values)
    with pytest.raises(MeasurementLost):
        store.measurement_source(keys, SETTINGS).measurement("3.dng")
    assert {store.missing(key, SETTINGS) for key in keys.values()} == {frozenset({"hot"})}
    assert len(store.warnings) == 5


def test_a_gallery_holds_no_more_than_it_has_room_for() -> None:
    asked: list[str] = []

    def fetch(frame_id: str, maps: bool) -> FrameMeasurement:
        assert maps
        asked.append(frame_id)
        return measurement(int(frame_id))

    measurements = StoreMeasurementSource(fetch, lambda: None, at_hand=2)
    for frame in ("1", "2", "1", "3", "1", "2"):
        measurements.measurement(frame)
    assert asked == ["1", "2", "3", "2"]


def test_a_memory_gallery_gives_what_it_was_given() -> None:
    measured = measurement(1)
    measurements = MemoryMeasurementSource({"a": measured})
    assert measurements.measurement("a") is measured
    with pytest.raises(KeyError):
        measurements.measurement("b")


def test_levels_are_remembered_by_body_iso_and_depth(store: Store) -> None:
    for number, iso in ((1, 100.0), (2, 100.0), (3, 400.0)):
        store.put(f"key{number}", SETTINGS, replace_serial(measurement(number, iso=iso)))
    store.put("plain", SETTINGS, replace_serial(measurement(9, clipped=False)))
    levels = store.level_history().levels
    body = ("Brackwell", "Brackwell F45", "F45-1")
    g1, b = (f"{name} {SENSOR}" for name in ("G1", "B"))
    assert levels[(*body, 100.0, 14, g1)] == ((15873.25, 15866.0), (15872.25, 15866.0))
    assert levels[(*body, 400.0, 14, b)] == ((15874.25, 15866.0),)
    assert levels.get((*body, 800.0, 14, b), ()) == ()
    assert len(levels) == 8
    store.put("key3", SETTINGS, CUT_OFF)
    assert (*body, 400.0, 14, b) not in store.level_history().levels


def test_levels_go_with_the_planes_they_were_measured_on_and_with_nothing_else(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    store.put("key", SETTINGS, measurement(1))
    keys = tuple(store.level_history().levels)
    assert len(keys) == 4
    for name in sorted(all_names() - {"planes"}):
        raised(monkeypatch, name)
        assert tuple(store.level_history().levels) == keys
    raised(monkeypatch, "planes")
    levels = store.level_history().levels
    assert list(levels) == []
    assert [levels.get(key) for key in keys] == [None] * len(keys)


def test_a_file_measured_under_two_settings_tells_its_levels_once(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    other = replace(SETTINGS, preview=not SETTINGS.preview)
    store.put("key", SETTINGS, measurement(1))
    store.put("key", other, CUT_OFF)
    (first,) = {len(found) for found in store.level_history().levels.values()}
    store.put("key", other, measurement(2))
    levels = store.level_history().levels
    assert (first, {len(found) for found in levels.values()}) == (1, {1})
    assert len(levels) == 4
    raised(monkeypatch, "planes")
    store.put("key", SETTINGS, measurement(3))
    assert {len(found) for found in store.level_history().levels.values()} == {1}


def test_a_sensor_of_several_levels_is_not_remembered(store: Store) -> None:
    found = measurement(1)
    planes = tuple(replace(plane, clips_apart=True) for plane in found.mosaic.planes)
    store.put("key", SETTINGS, replace(found, mosaic=replace(found.mosaic, planes=planes)))
    assert list(store.level_history().levels) == []


def test_a_level_that_was_damaged_is_let_go(store: Store) -> None:
    store.put("key", SETTINGS, measurement(1))
    store.put("other", SETTINGS, measurement(1))
    with closing(sqlite3.connect(store.path)) as connection, connection:
        connection.execute(
            "UPDATE pile_up SET level_dn = 3.0 WHERE plane LIKE 'R %' AND frame_id = 1"
        )
    counts = {key[-1].split()[0]: len(found) for key, found in store.level_history().levels.items()}
    assert counts == {"R": 1, "G1": 2, "G2": 2, "B": 2}


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
    key = (camera.make, camera.model, camera.serial, 100.0, 14, f"R {SENSOR}")
    assert store.level_history().levels[key]  # type: ignore[index]


def test_a_temporary_store_works_and_leaves_nothing_behind() -> None:
    with Store.temporary() as store:
        store.put("key", SETTINGS, measurement(1))
        assert store.missing("key", SETTINGS) == frozenset()
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
