"""Whole stores: steps recorded with their numbers, export, import, and what is refused."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from auditor.model.errors import CannotWrite, StoreRefused
from auditor.store.archive import Taken
from auditor.store.connection import APPLICATION_ID, connect
from auditor.store.migrations import STEPS, migrate, version_of
from auditor.store.store import Store
from tests.store_frames import CUT_OFF, SETTINGS, audit, measurement, same


def filled(path: Path, *numbers: int) -> Path:
    with Store.open(path) as store:
        for number in numbers:
            store.put(f"key{number}", SETTINGS, measurement(number))
        store.save_shoot(audit(*numbers))
    return path


def refusing_step(connection: sqlite3.Connection) -> None:
    connection.execute("CREATE TABLE half (done INTEGER)")
    raise RuntimeError("stopped in the middle of a step")


def added_step(connection: sqlite3.Connection) -> None:
    connection.execute("ALTER TABLE measurement ADD COLUMN extra TEXT")


def test_a_new_store_has_taken_every_step_and_bears_our_mark(tmp_path: Path) -> None:
    with closing(sqlite3.connect(filled(tmp_path / "s.sqlite", 1))) as connection:
        assert version_of(connection) == len(STEPS)
        assert connection.execute("PRAGMA application_id").fetchone() == (APPLICATION_ID,)


@pytest.mark.parametrize("taken", range(len(STEPS)))
def test_an_older_store_takes_the_steps_that_it_lacks(tmp_path: Path, taken: int) -> None:
    path = tmp_path / "s.sqlite"
    with closing(connect(path)) as connection:
        migrate(connection, path, STEPS[:taken])
        assert version_of(connection) == taken
    with Store.open(path) as store:
        store.put("key", SETTINGS, measurement(1))
        store.save_shoot(audit(1))
        assert store.verify() == []


def test_a_step_that_fails_leaves_the_store_as_it_was(tmp_path: Path) -> None:
    path = filled(tmp_path / "s.sqlite", 1)
    with closing(connect(path)) as connection:
        with pytest.raises(RuntimeError, match="in the middle"):
            migrate(connection, path, (*STEPS, refusing_step))
        assert version_of(connection) == len(STEPS)
        tables = connection.execute("SELECT name FROM sqlite_master").fetchall()
        assert ("half",) not in tables
    with Store.open(path) as store:
        assert same(store.get("key1", SETTINGS), measurement(1))


def test_a_step_keeps_what_was_there(tmp_path: Path) -> None:
    path = filled(tmp_path / "s.sqlite", 1)
    with closing(connect(path)) as connection:
        migrate(connection, path, (*STEPS, added_step))
        assert version_of(connection) == len(STEPS) + 1
        (count,) = connection.execute("SELECT count(extra IS NULL) FROM measurement").fetchone()
        assert count == 1


def newer(path: Path) -> Path:
    with closing(connect(path)) as connection:
        migrate(connection, path, (*STEPS, added_step))
    return path


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


def test_an_older_store_can_be_imported(tmp_path: Path) -> None:
    path = tmp_path / "old.sqlite"
    with closing(connect(path)) as connection:
        migrate(connection, path, STEPS[:1])
    with Store.temporary() as store:
        assert store.import_(path).measurements == 0


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
    [((1, 2), (1,), "1 measurement not"), ((1,), (1, 3), "1 shoot not"),
     ((2, 4), (3,), "2 measurements and 1 shoot not")],
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
        assert store.known("key1", SETTINGS) == "measured"


def test_what_was_taken_in_is_counted_in_plain_words() -> None:
    assert str(Taken(1, 1)) == "1 measurement and 1 shoot"
    assert str(Taken(0, 2, 1)) == "0 measurements and 2 shoots; 1 could not be read"


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
