"""Stores where nothing can be written: asked, verified and copied out, and left as they lie."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

import pytest

from auditor import past
from auditor.model.errors import StoreRefused
from auditor.store.database import connect_to_read
from auditor.store.store import Store
from tests.store_frames import SETTINGS, audit, measurement
from tests.surroundings import needs_permissions

Lock = Callable[..., None]


@pytest.fixture
def store(tmp_path: Path) -> Path:
    path = tmp_path / "card" / "s.sqlite"
    with Store.open(path) as made:
        made.put("key1", SETTINGS, measurement(1))
        made.save_shoot(audit(1))
    return path


@pytest.fixture
def lock(monkeypatch: pytest.MonkeyPatch) -> Iterator[Lock]:
    """Take the right to write from files and folders, and from the superuser the exemption."""
    locked: dict[str, int] = {}
    answer = os.access

    def access(path: str | Path, mode: int) -> bool:
        return answer(path, mode) and not (mode & os.W_OK and str(path) in locked)

    def take(*paths: Path) -> None:
        for path in paths:
            locked[os.path.realpath(path)] = path.stat().st_mode
            path.chmod(0o500 if path.is_dir() else 0o400)

    monkeypatch.setattr("auditor.store.database.os.access", access)
    yield take
    for name, mode in locked.items():
        Path(name).chmod(mode)


@pytest.mark.parametrize("parts", ["file", "folder", "both"])
def test_a_store_that_cannot_be_written_is_asked_and_left_as_it_lies(
    store: Path, tmp_path: Path, lock: Lock, parts: str
) -> None:
    before = store.read_bytes()
    lock(*{"file": [store], "folder": [store.parent], "both": [store, store.parent]}[parts])
    assert past.remembered_history(store).shoots == 1
    assert past.remembered_filters(store) == ()
    assert past.verify_store(store) == []
    past.export_store(store, tmp_path / "copy.sqlite")
    taken = past.import_store(tmp_path / "other.sqlite", store)
    assert (taken.measurements, taken.shoots, taken.whole) == (1, 1, True)
    assert past.verify_store(tmp_path / "copy.sqlite") == []
    assert store.read_bytes() == before
    assert list(store.parent.iterdir()) == [store]


def test_damage_where_nothing_can_be_written_is_told_and_nothing_is_set_aside(
    store: Path, lock: Lock
) -> None:
    with store.open("r+b") as stream:
        stream.write(os.urandom(200))
    lock(store, store.parent)
    with pytest.raises(StoreRefused, match=r"is damaged .* Copy it to a folder"):
        past.remembered_history(store)
    assert list(store.parent.iterdir()) == [store]


def test_reading_a_store_that_can_be_written_leaves_no_journal_beside_it(store: Path) -> None:
    before = store.read_bytes()
    with closing(connect_to_read(store)) as reading:
        assert reading.execute("SELECT count(*) FROM frame").fetchone() == (1,)
        with pytest.raises(sqlite3.OperationalError, match="readonly"):
            reading.execute("DELETE FROM frame")
    assert list(store.parent.iterdir()) == [store]
    assert store.read_bytes() == before


def test_what_still_lies_in_a_log_is_read_too(store: Path, tmp_path: Path) -> None:
    with Store.open(store) as writer:
        writer.put("key2", SETTINGS, measurement(2))
        assert past.import_store(tmp_path / "other.sqlite", store).measurements == 2


def test_a_log_that_cannot_be_read_is_never_passed_over(
    store: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refused(*arguments: object, **options: object) -> None:
        raise sqlite3.OperationalError("unable to open database file")

    store.with_name("s.sqlite-wal").write_bytes(b"\0" * 32)
    monkeypatch.setattr("auditor.store.database.sqlite3.connect", refused)
    with pytest.raises(StoreRefused, match=r"s\.sqlite-wal: copy both"):
        connect_to_read(store)


@needs_permissions
def test_a_store_that_may_not_be_read_is_refused_without_options_that_are_not_there(
    store: Path,
) -> None:
    store.chmod(0)
    with pytest.raises(StoreRefused, match=r"cannot be read .* with --store\.$"):
        past.verify_store(store)


def test_an_empty_file_is_no_store_that_remembers_nothing(tmp_path: Path) -> None:
    path = tmp_path / "s.sqlite"
    path.touch()
    for ask in (past.verify_store, past.remembered_history, past.remembered_filters):
        with pytest.raises(StoreRefused, match="is empty"):
            ask(path)
    with pytest.raises(StoreRefused, match=r"is empty.*to import\.$"):
        past.import_store(tmp_path / "other.sqlite", path)
    assert list(tmp_path.iterdir()) == [path]
    assert path.stat().st_size == 0
