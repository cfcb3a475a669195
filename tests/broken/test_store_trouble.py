"""Stores that are damaged, locked, full, read-only, or killed in the middle of writing."""

from __future__ import annotations

import os
import random
import shutil
import sqlite3
import subprocess
import sys
import tempfile
import threading
import time
from contextlib import closing, suppress
from pathlib import Path
from typing import Any

import pytest

from auditor import past
from auditor.model.errors import CannotWrite, StoreFull, StoreRefused
from auditor.model.shoot import MeasurementLost
from auditor.store.codec import CannotDecode
from auditor.store.database import PAGE_BYTES, TABLES, VERSION, check_signed, connect
from auditor.store.frames import fetch
from auditor.store.store import Store
from tests.store_frames import SETTINGS, audit, measurement, same
from tests.surroundings import needs_permissions

ROOT = Path(__file__).parents[2]


def filled(path: Path, count: int = 12) -> Path:
    with Store.open(path) as store:
        for number in range(count):
            store.put(f"key{number}", SETTINGS, measurement(number, rows=64))
        store.save_shoot(audit(*range(count)))
    return path


def set_aside_beside(path: Path) -> list[Path]:
    return sorted(path.parent.glob(f"{path.stem}.damaged-*{path.suffix}"))


def overwrite(path: Path, start: int, content: bytes) -> None:
    with path.open("r+b") as stream:
        stream.seek(start)
        stream.write(content)


def test_a_store_without_its_header_is_set_aside_and_told(tmp_path: Path) -> None:
    path = filled(tmp_path / "s.sqlite")
    overwrite(path, 0, os.urandom(200))
    before = path.read_bytes()
    with Store.open(path) as store:
        assert store.missing("key1", SETTINGS)
        store.put("key1", SETTINGS, measurement(1))
        assert "set aside as" in " ".join(store.warnings)
    (aside,) = set_aside_beside(path)
    assert aside.read_bytes() == before
    with Store.open(path) as store:
        assert store.warnings == []
        assert store.missing("key1", SETTINGS) == frozenset()


@pytest.mark.parametrize(("place", "value"), [(18, 0x42), (18, 3), (47, 0x24), (47, 0x14)])
def test_a_store_whose_header_names_a_format_of_the_future_is_damaged(
    tmp_path: Path, place: int, value: int
) -> None:
    """Ways of writing and of describing tables that the database itself does not know."""
    path = filled(tmp_path / "s.sqlite")
    overwrite(path, place, bytes([value]))
    with Store.open(path) as store:
        store.put("key99", SETTINGS, measurement(1))
        assert "set aside as" in " ".join(store.warnings)
    assert set_aside_beside(path)


def test_what_can_be_read_of_a_damaged_store_is_saved(tmp_path: Path) -> None:
    path = filled(tmp_path / "s.sqlite", 40)
    pages = path.stat().st_size // PAGE_BYTES
    assert pages > 30
    for page in (pages // 2, pages // 2 + 1):
        overwrite(path, page * PAGE_BYTES, bytes(PAGE_BYTES))
    with Store.open(path) as store:
        found = [store.get(f"key{number}", SETTINGS) for number in range(40)]
        saved = [number for number, one in enumerate(found) if one is not None]
        assert all(same(found[number], measurement(number, rows=64)) for number in saved)
        assert 20 <= len(saved) < 40
        assert store.warnings
        assert store.verify() == []


@pytest.mark.parametrize("seed", [*range(8), 34, 129, 195, 207, 220, 236, 243, 256])
def test_random_damage_never_ends_an_audit_or_changes_a_measurement(
    tmp_path: Path, seed: int
) -> None:
    path = filled(tmp_path / "s.sqlite", 6)
    chance = random.Random(seed)
    for _ in range(chance.choice((1, 3, 20))):
        place = chance.randrange(100, path.stat().st_size - 600)
        overwrite(path, place, chance.randbytes(chance.choice((1, 30, 512))))
    with Store.open(path) as store:
        for number in range(6):
            read = store.get(f"key{number}", SETTINGS)
            assert read is None or same(read, measurement(number, rows=64))
        for number in range(6):
            store.put(f"key{number}", SETTINGS, measurement(number, rows=64))
            assert same(store.get(f"key{number}", SETTINGS), measurement(number, rows=64))


def test_a_flipped_bit_inside_a_measurement_is_noticed_and_told(tmp_path: Path) -> None:
    path = filled(tmp_path / "s.sqlite", 2)
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.execute(
            "UPDATE measure SET record = zeroblob(length(record)) WHERE name = 'tiles' "
            "AND frame_id = (SELECT id FROM frame WHERE content_key = 'key0')"
        )
    with Store.open(path) as store:
        assert len(store.verify()) == 1
        assert "key0" in store.verify()[0]
        measurements = store.measurement_source({"a": "key0", "b": "key1"}, SETTINGS)
        with pytest.raises(MeasurementLost):
            measurements.measurement("a")
        assert same(measurements.measurement("b"), measurement(1, rows=64))
        assert store.missing("key0", SETTINGS) == frozenset({"tiles"})
        assert len(store.warnings) == 1


def test_a_damaged_past_shoot_is_told_and_the_others_are_read(tmp_path: Path) -> None:
    path = filled(tmp_path / "s.sqlite", 2)
    with Store.open(path) as store:
        store.save_shoot(audit(500))
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.execute("UPDATE shoot SET audit = x'00' WHERE id = 1")
    with Store.open(path) as store:
        assert [shoot.frames[0].file for shoot in store.shoots()] == ["F45_0500.dng"]
        assert len(store.warnings) == 1
        assert len(store.verify()) == 1


def test_a_past_shoot_that_turned_into_text_is_told(tmp_path: Path) -> None:
    path = filled(tmp_path / "s.sqlite", 2)
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.execute("UPDATE shoot SET audit = CAST(audit AS TEXT)")
    with Store.open(path) as store:
        assert list(store.shoots()) == []
        assert len(store.warnings) == 1
        assert "Shoot 1" in " ".join(store.verify())


def test_a_measurement_that_another_process_dropped_is_no_fault(tmp_path: Path) -> None:
    path = filled(tmp_path / "s.sqlite", 1)
    with Store.open(path) as store, pytest.raises(CannotDecode, match="no tiles"):
        fetch(store._connection, "other", SETTINGS)


@pytest.mark.parametrize("table", ["measure", "shoot_frame"])
def test_verify_tells_of_broken_pages_and_still_reads_the_rest(tmp_path: Path, table: str) -> None:
    path = filled(tmp_path / "s.sqlite", 3)
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.execute("UPDATE shoot SET checksum = 0")
        (page,) = connection.execute(
            "SELECT rootpage FROM sqlite_master WHERE name = ?", (table,)
        ).fetchone()
    overwrite(path, (page - 1) * PAGE_BYTES, b"\xff" * 64)
    with Store.open(path) as store:
        found = " ".join(store.verify())
        assert "damaged" in found or "before the end" in found
        assert "Shoot 1" in found


def test_a_whole_store_is_called_whole(tmp_path: Path) -> None:
    with Store.open(filled(tmp_path / "s.sqlite")) as store:
        assert store.verify() == []


def test_a_locked_store_is_refused_after_a_while(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("auditor.store.database.WAIT_FOR_LOCK_S", 0.2)
    path = filled(tmp_path / "s.sqlite", 1)
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        with Store.open(path) as store:
            assert store.missing("key0", SETTINGS) == frozenset()
            with pytest.raises(StoreRefused, match="another audit"):
                store.put("key1", SETTINGS, measurement(1))
            other.execute("ROLLBACK")
            store.put("key1", SETTINGS, measurement(1))


def test_two_writers_take_turns(tmp_path: Path) -> None:
    path = tmp_path / "s.sqlite"
    errors: list[BaseException] = []

    def write(first: int) -> None:
        try:
            with Store.open(path) as store:
                for number in range(first, first + 15):
                    store.put(f"key{number}", SETTINGS, measurement(number))
        except BaseException as error:
            errors.append(error)

    writers = [threading.Thread(target=write, args=(first,)) for first in (0, 15, 30)]
    for writer in writers:
        writer.start()
    for writer in writers:
        writer.join()
    assert errors == []
    with Store.open(path) as store:
        assert not any(store.missing(f"key{number}", SETTINGS) for number in range(45))


def test_tables_made_while_the_store_is_opened_are_no_damage(tmp_path: Path) -> None:
    path = tmp_path / "s.sqlite"

    class Interrupted(sqlite3.Connection):
        def execute(self, sql: str, *values: Any) -> sqlite3.Cursor:
            if "sqlite_master" in sql:
                other = sqlite3.connect(path, timeout=0, isolation_level=None)
                with closing(other), suppress(sqlite3.OperationalError):
                    other.executescript(f"BEGIN; {TABLES} PRAGMA user_version = {VERSION}; COMMIT")
            return super().execute(sql, *values)

    with closing(sqlite3.connect(path, factory=Interrupted, isolation_level=None)) as connection:
        assert check_signed(connection, path) == frozenset()


def put_many(store: Store) -> None:
    for number in range(100, 120):
        store.put(f"key{number}", SETTINGS, measurement(number, rows=64))


def test_a_full_disk_is_told_and_what_was_kept_is_safe(tmp_path: Path) -> None:
    path = filled(tmp_path / "s.sqlite", 3)
    with Store.open(path) as store:
        (pages,) = store._connection.execute("PRAGMA page_count").fetchone()
        store._connection.execute(f"PRAGMA max_page_count = {pages}")
        with pytest.raises(StoreFull, match="full"):
            put_many(store)
    with Store.open(path) as store:
        assert not any(store.missing(f"key{number}", SETTINGS) for number in range(3))
        assert store.verify() == []


def test_a_disk_that_fills_at_an_import_is_told_of_the_right_file(tmp_path: Path) -> None:
    source, path = filled(tmp_path / "source.sqlite", 20), filled(tmp_path / "s.sqlite", 1)
    with Store.open(path) as store:
        (pages,) = store._connection.execute("PRAGMA page_count").fetchone()
        store._connection.execute(f"PRAGMA max_page_count = {pages}")
        with pytest.raises(StoreFull, match="full") as refused:
            store.import_(source)
    assert str(refused.value).startswith(f"{path}:")


def test_a_temporary_store_on_a_full_disk_names_another_place(tmp_path: Path) -> None:
    with Store.temporary() as store:
        (pages,) = store._connection.execute("PRAGMA page_count").fetchone()
        store._connection.execute(f"PRAGMA max_page_count = {pages}")
        with pytest.raises(CannotWrite, match="TMPDIR"):
            put_many(store)


def test_no_temporary_folder_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tempfile, "tempdir", "/nowhere/at/all")
    with pytest.raises(CannotWrite, match="TMPDIR"):
        Store.temporary()


def test_a_damaged_store_that_cannot_be_begun_anew_is_told_with_its_new_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = filled(tmp_path / "s.sqlite", 1)
    overwrite(path, 0, os.urandom(200))

    def no_room(path: Path, *, lasting: bool) -> sqlite3.Connection:
        if path.exists():
            return connect(path, lasting=lasting)
        raise StoreFull("the disk is full")

    monkeypatch.setattr("auditor.store.file.connect", no_room)
    with pytest.raises(StoreRefused, match="set aside as"):
        Store.open(path)
    assert len(set_aside_beside(path)) == 1


def test_a_pipe_is_never_waited_for_nor_renamed(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe.sqlite"
    os.mkfifo(pipe)
    script = "import sys; from pathlib import Path; from auditor.store.store import Store; "
    asked = subprocess.run(
        [sys.executable, "-c", f"{script} Store.open(Path(sys.argv[1]))", str(pipe)],
        cwd=ROOT, capture_output=True, text=True, timeout=120, check=False,
    )  # fmt: skip
    assert "is not a file" in asked.stderr
    assert pipe.is_fifo()
    for journal in ("-wal", "-shm", "-journal"):
        path = filled(tmp_path / f"s{journal}.sqlite", 1)
        os.mkfifo(f"{path}{journal}")
        with pytest.raises(StoreRefused, match=f"{journal}: is not a file"):
            Store.open(path)
    with Store.temporary() as store, pytest.raises(CannotWrite, match="not a store"):
        store.export(pipe)


def test_an_export_onto_the_store_itself_is_refused(tmp_path: Path) -> None:
    path = filled(tmp_path / "s.sqlite", 1)
    with Store.open(path) as store:
        with pytest.raises(CannotWrite, match="the store itself"):
            store.export(path)
        assert store.missing("key0", SETTINGS) == frozenset()


def test_an_export_under_a_name_that_cannot_be_is_refused(tmp_path: Path) -> None:
    with Store.temporary() as store:
        with pytest.raises(CannotWrite, match="cannot be written"):
            store.export(tmp_path / ("n" * 300))
        store.export(tmp_path / os.fsdecode(b"folder\xff") / "s.sqlite")
        with pytest.raises(StoreRefused, match="no such file"):
            store.import_(tmp_path / ("n" * 300))


def exported(path: Path) -> Path:
    with Store.open(filled(path.with_suffix(".sqlite"))) as store:
        store.export(path)
    return path


def page_of(path: Path, table: str) -> int:
    with closing(sqlite3.connect(path)) as connection:
        (page,) = connection.execute(
            "SELECT rootpage FROM sqlite_master WHERE name = ?", (table,)
        ).fetchone()
    return (int(page) - 1) * PAGE_BYTES


@pytest.mark.parametrize("table", ["frame", "shoot", "measure"])
def test_an_import_tells_that_a_damaged_export_was_not_taken_in_whole(
    tmp_path: Path, table: str
) -> None:
    source = exported(tmp_path / "d.auditor")
    overwrite(source, page_of(source, table), b"\xa5" * 16)
    with Store.temporary() as store:
        assert not store.import_(source).whole
        assert store.warnings == []
        assert store.verify() == []


def test_rows_that_vanish_with_their_page_are_missed(tmp_path: Path) -> None:
    source = exported(tmp_path / "d.auditor")
    place = page_of(source, "shoot")
    overwrite(source, place + 3, b"\x00\x00")  # the page says that it holds no rows
    with Store.temporary() as store:
        taken = store.import_(source)
        assert (taken.shoots, taken.unreadable, taken.complete) == (0, 0, False)


def test_one_measurement_that_changed_is_told_and_the_others_are_taken_in(tmp_path: Path) -> None:
    source = exported(tmp_path / "d.auditor")
    with closing(sqlite3.connect(source)) as connection, connection:
        connection.execute("UPDATE measure SET checksum = 0 WHERE frame_id = 4")
    with Store.temporary() as store:
        taken = store.import_(source)
        assert (taken.measurements, taken.unreadable, taken.whole) == (11, 1, False)


def test_an_export_whose_tables_cannot_be_read_is_refused_before_a_store_is_made(
    tmp_path: Path,
) -> None:
    source = exported(tmp_path / "d.auditor")
    overwrite(source, 96, b"\xa5" * 16)
    for path, why in ((source, "is damaged"), (tmp_path / "nope", "no such file")):
        with pytest.raises(StoreRefused, match=why):
            past.import_store(tmp_path / "new.sqlite", path)
    assert not (tmp_path / "new.sqlite").exists()


def test_an_export_of_a_damaged_store_writes_what_can_be_read_and_tells(tmp_path: Path) -> None:
    path = filled(tmp_path / "s.sqlite", 12)
    pages = path.stat().st_size // PAGE_BYTES
    for page in range(pages // 3, pages // 2):
        overwrite(path, page * PAGE_BYTES, b"\xff" * PAGE_BYTES)
    with Store.open(path) as store:
        store.export(tmp_path / "copy.sqlite")
        assert "set aside" in " ".join(store.warnings)
    with Store.open(tmp_path / "copy.sqlite") as copy:
        assert copy.verify() == []


@needs_permissions
def test_a_read_only_folder_is_refused(tmp_path: Path) -> None:
    folder = tmp_path / "locked"
    folder.mkdir(mode=0o500)
    with pytest.raises(StoreRefused, match="cannot be opened"):
        Store.open(folder / "s.sqlite")


def test_a_place_where_no_folder_can_be_is_refused(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("not a folder", encoding="utf-8")
    with pytest.raises(StoreRefused, match="--no-store"):
        Store.open(tmp_path / "file" / "s.sqlite")
    with Store.temporary() as store, pytest.raises(CannotWrite, match="cannot be written"):
        store.export(tmp_path / "file" / "s.sqlite")


WRITER = """
import sys
from pathlib import Path
from auditor.model.shoot import MeasurementLost
from auditor.store.store import Store
from tests.store_frames import SETTINGS, audit, measurement

with Store.open(Path(sys.argv[1])) as store:
    number = 0
    while True:
        store.put(f"key{number}", SETTINGS, measurement(number))
        print(number, flush=True)
        if number % 5 == 0:
            store.save_shoot(audit(*range(number + 1)))
        number += 1
"""


def test_a_writer_killed_at_any_moment_loses_nothing_that_was_put(tmp_path: Path) -> None:
    chance = random.Random(5)
    for round_ in range(6):
        path = tmp_path / f"s{round_}.sqlite"
        writer = subprocess.Popen(
            [sys.executable, "-c", WRITER, str(path)], cwd=ROOT, stdout=subprocess.PIPE, text=True
        )
        assert writer.stdout is not None
        writer.stdout.readline()
        time.sleep(chance.random() * 0.25)
        writer.kill()
        out, _ = writer.communicate()
        put = [0, *(int(line) for line in out.split("\n")[:-1])]
        with Store.open(path) as store:
            assert store.warnings == []
            for number in put:
                assert same(store.get(f"key{number}", SETTINGS), measurement(number))
            assert store.verify() == []
            assert len(list(store.shoots())) <= 1


def test_the_log_of_another_store_costs_time_and_no_measurement(tmp_path: Path) -> None:
    """As where a store is put back from a backup and its journals are not."""
    path, other = filled(tmp_path / "s.sqlite", 3), filled(tmp_path / "other.sqlite", 1)
    with closing(sqlite3.connect(other)) as connection:
        connection.execute("PRAGMA journal_mode = WAL")
        connection.execute("CREATE TABLE more (x)")
        for _ in range(40):
            connection.execute("INSERT INTO more VALUES (zeroblob(9000))")
        connection.commit()
        shutil.copy(f"{other}-wal", f"{path}-wal")
    with Store.open(path) as store:
        for number in range(3):
            kept = store.get(f"key{number}", SETTINGS)
            assert kept is None or same(kept, measurement(number, rows=64))
        store.put("key7", SETTINGS, measurement(7))
        assert same(store.get("key7", SETTINGS), measurement(7))


def test_a_temporary_store_that_cannot_be_written_names_another_place(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def no_more(*_: object) -> None:
        raise sqlite3.OperationalError("disk I/O error")

    monkeypatch.setattr("auditor.store.database._use_wal", no_more)
    with pytest.raises(CannotWrite, match="TMPDIR"):
        Store.temporary()
