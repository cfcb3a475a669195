"""Whole stores: steps recorded with their numbers, export, import, and what is refused."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from auditor.model.errors import CannotWrite, StoreRefused
from auditor.store.database import APPLICATION_ID, VERSION
from auditor.store.exchange import Taken
from auditor.store.shoots import EveningFace
from auditor.store.store import Store
from tests.store_frames import CUT_OFF, SETTINGS, audit, measurement, same


def filled(path: Path, *numbers: int) -> Path:
    with Store.open(path) as store:
        for number in numbers:
            store.put(f"key{number}", SETTINGS, measurement(number))
        store.save_shoot(audit(*numbers))
    return path


def marked(path: Path, pragma: str, value: int) -> Path:
    with closing(sqlite3.connect(path)) as connection:
        connection.execute(f"PRAGMA {pragma} = {value}")
    return path


def test_a_new_store_bears_our_mark_and_its_version(tmp_path: Path) -> None:
    with closing(sqlite3.connect(filled(tmp_path / "s.sqlite", 1))) as connection:
        assert connection.execute("PRAGMA user_version").fetchone() == (VERSION,)
        assert connection.execute("PRAGMA application_id").fetchone() == (APPLICATION_ID,)


@pytest.mark.parametrize(
    ("pragma", "value"), [("user_version", 0), ("user_version", -7), ("application_id", 12)]
)
def test_a_store_of_an_odd_version_or_mark_is_set_aside_and_its_rows_are_saved(
    tmp_path: Path, pragma: str, value: int
) -> None:
    path = marked(filled(tmp_path / "s.sqlite", 1, 2), pragma, value)
    with Store.open(path) as store:
        assert "set aside as" in store.warnings[0]
        assert "2 measurements and 1 shoot" in store.warnings[0]
        assert same(store.get("key1", SETTINGS), measurement(1))
        assert store.verify() == []


def test_a_store_with_the_tables_of_an_older_version_is_begun_anew(tmp_path: Path) -> None:
    path = tmp_path / "s.sqlite"
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("CREATE TABLE measurement (id INTEGER PRIMARY KEY)")
        connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        connection.execute("PRAGMA user_version = 3")
    with Store.open(path) as store:
        assert "of version 3" in store.warnings[0]
        store.put("key", SETTINGS, measurement(1))
        assert store.verify() == []


def newer(path: Path) -> Path:
    return marked(path, "user_version", VERSION + 1)


def test_a_store_of_a_newer_version_is_refused_and_untouched(tmp_path: Path) -> None:
    path = newer(filled(tmp_path / "s.sqlite", 1))
    before = path.read_bytes()
    with pytest.raises(StoreRefused, match="newer version"):
        Store.open(path)
    assert path.read_bytes() == before
    with Store.temporary() as store, pytest.raises(StoreRefused, match="newer version"):
        store.import_(path)


def test_an_export_holds_everything_and_can_be_opened_as_a_store(tmp_path: Path) -> None:
    copy = tmp_path / "out" / "copy.sqlite"
    with Store.open(filled(tmp_path / "s.sqlite", 1)) as store:
        store.export(copy)
    with Store.open(filled(tmp_path / "s.sqlite", 1, 2)) as store:
        store.export(copy)  # an older export gives way
    assert [path.name for path in copy.parent.iterdir()] == ["copy.sqlite"]
    with Store.open(copy) as store:
        assert same(store.get("key2", SETTINGS), measurement(2))
        assert len(list(store.shoots())) == 1
        assert store.verify() == []


def test_an_import_adds_what_is_missing_and_keeps_what_is_there(tmp_path: Path) -> None:
    source = filled(tmp_path / "source.sqlite", 1, 2, 3)
    before = source.read_bytes()
    with Store.open(tmp_path / "s.sqlite") as store:
        store.put("key1", SETTINGS, measurement(77))
        store.put("key2", SETTINGS, CUT_OFF)
        taken = store.import_(source)
        assert (taken.measurements, taken.shoots, taken.unreadable) == (2, 1, 0)
        assert same(store.get("key1", SETTINGS), measurement(77))
        assert same(store.get("key2", SETTINGS), measurement(2))
        assert same(store.get("key3", SETTINGS), measurement(3))
        assert len(store.level_history().levels) == 12
        assert store.verify() == []
        assert store.import_(source) == type(taken)(0, 0, 0)
    assert source.read_bytes() == before


def test_the_pictures_of_evenings_go_with_an_export_and_come_with_an_import(
    tmp_path: Path,
) -> None:
    face = EveningFace(day="2031-09-14", picture_of="S1.dng", picture=b"small")
    other = EveningFace(day="2031-09-15", picture_of="S9.dng", picture=b"another shoot's")
    with Store.open(filled(tmp_path / "source.sqlite", 1, 2)) as store:
        store.note_evenings(audit(1, 2), [face])
        store.save_shoot(audit(9))
        store.note_evenings(audit(9), [other])
        store.export(tmp_path / "copy.sqlite")
    with Store.open(filled(tmp_path / "s.sqlite", 9)) as store:
        assert store.import_(tmp_path / "copy.sqlite").shoots == 1
        assert store.evening_faces() == [face], "that of a shoot that was here stays as it was"


def test_import_refuses_what_is_no_store(tmp_path: Path) -> None:
    picture = tmp_path / "F45_0001.dng"
    picture.write_bytes(b"II*\x00" + bytes(5000))
    foreign = tmp_path / "foreign.sqlite"
    with closing(sqlite3.connect(foreign)) as connection:
        connection.execute("CREATE TABLE theirs (x)")
    with Store.temporary() as store:
        for path in (picture, foreign, tmp_path / "absent.sqlite", tmp_path):
            with pytest.raises(StoreRefused):
                store.import_(path)


@pytest.mark.parametrize(
    ("numbers", "shoot", "lost"),
    [((1, 2), (1,), "1 measured file not"), ((1,), (1, 3), "1 shoot not"),
     ((2, 4), (3,), "2 measured files and 1 shoot not")],
)  # fmt: skip
def test_an_export_never_replaces_a_store_that_holds_more(
    tmp_path: Path, numbers: tuple[int, ...], shoot: tuple[int, ...], lost: str
) -> None:
    other = tmp_path / "other.sqlite"
    with Store.open(other) as store:
        for number in numbers:
            store.put(f"key{number}", SETTINGS, measurement(number))
        store.save_shoot(audit(*shoot))
    before = other.read_bytes()
    with Store.open(filled(tmp_path / "s.sqlite", 1)) as store:
        with pytest.raises(CannotWrite, match=lost):
            store.export(other)
        assert other.read_bytes() == before
        store.import_(other)
        store.export(other)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["other.sqlite", "s.sqlite"]


def test_an_export_replaces_an_empty_file_and_no_store_in_use_or_newer(tmp_path: Path) -> None:
    empty, used = tmp_path / "empty.auditor", tmp_path / "used.sqlite"
    empty.touch()
    with Store.open(filled(tmp_path / "s.sqlite", 1)) as store:
        store.export(empty)
        with Store.open(used) as other:
            other.put("key1", SETTINGS, measurement(1))
            with pytest.raises(CannotWrite, match="in use"):
                store.export(used)
        with pytest.raises(CannotWrite, match="not one that can be read"):
            store.export(newer(tmp_path / "newer.sqlite"))
    with Store.open(empty) as store:
        assert store.missing("key1", SETTINGS) == frozenset()


def test_what_was_taken_in_is_counted_in_plain_words() -> None:
    assert str(Taken(1, 1)) == "1 measurement and 1 shoot"
    assert str(Taken(0, 2, 1)) == "no measurements and 2 shoots; 1 could not be read"


def test_an_export_never_replaces_something_else(tmp_path: Path) -> None:
    picture = tmp_path / "F45_0001.dng"
    picture.write_bytes(b"II*\x00" + bytes(5000))
    before = picture.read_bytes()
    with Store.temporary() as store, pytest.raises(CannotWrite, match="not a store"):
        store.export(picture)
    assert picture.read_bytes() == before


def test_a_store_path_that_is_something_else_is_refused_and_untouched(tmp_path: Path) -> None:
    picture = tmp_path / "F45_0001.dng"
    picture.write_bytes(b"II*\x00" + bytes(5000))
    foreign = tmp_path / "foreign.sqlite"
    with closing(sqlite3.connect(foreign)) as connection:
        connection.execute("CREATE TABLE theirs (x)")
    before = [path.read_bytes() for path in (picture, foreign)]
    for path in (picture, foreign, tmp_path):
        with pytest.raises(StoreRefused, match=r"--store"):
            Store.open(path)
    assert [path.read_bytes() for path in (picture, foreign)] == before
    assert sorted(path.name for path in tmp_path.iterdir()) == ["F45_0001.dng", "foreign.sqlite"]
