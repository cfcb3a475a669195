"""Stores corrupted every which way: the audit ends with the reports it would have made, in one run.

A corrupted store may cost time, never an answer. Each case starts from the store of a whole audit,
and of an earlier shoot, and audits the same card again.
"""

from __future__ import annotations

import json
import os
import random
import shutil
import sqlite3
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass, replace
from pathlib import Path

import msgspec
import numpy as np
import pytest

from auditor.audit import run_audit
from auditor.examine import examine_packed
from auditor.model.audit import Audit
from auditor.model.outcome import Outcome
from auditor.request import AuditRequest
from auditor.store.codec import to_bytes
from auditor.store.database import PAGE_BYTES, VERSION, checksum
from auditor.task import Examined, ExamineTask
from tests.built_dng import clipping_ramp, write_dng
from tests.evening_audit import KeepingListener

FILES = 4


class OnTheSpot:
    """An engine without processes: what is tried here is the store."""

    def run(self, _: object, tasks: Sequence[ExamineTask]) -> Iterator[Outcome[Examined]]:
        for index, task in enumerate(tasks):
            yield Outcome(index, examine_packed(task), None)

    def close(self) -> None:
        pass


@dataclass(frozen=True)
class Bench:
    """A card, its store after a whole audit, and that audit."""

    card: Path
    store: Path
    audit: Audit

    def corrupted(
        self, folder: Path, corrupt: Callable[[Path, random.Random], None], seed: int
    ) -> Path:
        path = folder / "store.sqlite"
        shutil.copy(self.store, path)
        if seed % 2:  # nothing is recalled: every measurement is read
            with closing(sqlite3.connect(path)) as connection, connection:
                connection.execute("DELETE FROM conclusion")
        corrupt(path, random.Random(seed))
        return path


def request_for(card: Path, folder: Path) -> AuditRequest:
    return AuditRequest(
        (str(card),), folder / "out", formats=("json",), store=folder / "store.sqlite", workers=1
    )


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Bench]:
    root = tmp_path_factory.mktemp("corruptions")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("auditor.gather.make_engine", lambda *_: OnTheSpot())
        for card, first in (("card", 0), ("other", 100)):
            (root / card).mkdir()
            for number in range(first, first + FILES):
                pixels = clipping_ramp((96, 144), number)
                write_dng(root / card / f"F45_{number:04d}.DNG", pixels)
        earlier = replace(request_for(root / "other", root), out=root / "earlier")
        run_audit(earlier, KeepingListener())
        end = run_audit(request_for(root / "card", root), KeepingListener())
        assert [frame.status for frame in end.audit.frames] == ["measured"] * FILES
        with closing(sqlite3.connect(root / "store.sqlite")) as connection:
            for table in ("pile_up", "content", "shoot", "conclusion"):
                (count,) = connection.execute(f"SELECT count(*) FROM {table}").fetchone()
                assert count, f"{table} is empty, and what becomes of it is not tried"
        yield Bench(root / "card", root / "store.sqlite", bare(end.audit))


def bare(audit: Audit) -> Audit:
    return replace(audit, made_at="", notes=())


def overwrite(path: Path, start: int, content: bytes) -> None:
    with path.open("r+b") as stream:
        stream.seek(start)
        stream.write(content)


def flip(path: Path, chance: random.Random, count: int = 1) -> None:
    content = bytearray(path.read_bytes())
    for _ in range(count):
        content[chance.randrange(len(content))] ^= 1 << chance.randrange(8)
    path.write_bytes(content)


def flip_sixteen(path: Path, chance: random.Random) -> None:
    flip(path, chance, 16)


def flip_in_header(path: Path, chance: random.Random) -> None:
    content = bytearray(path.read_bytes())
    content[chance.randrange(100)] ^= 1 << chance.randrange(8)
    path.write_bytes(content)


def cut(path: Path, chance: random.Random) -> None:
    with path.open("r+b") as stream:
        stream.truncate(chance.randrange(path.stat().st_size))


def zero_pages(path: Path, chance: random.Random) -> None:
    for _ in range(chance.choice((1, 3))):
        page = chance.randrange(path.stat().st_size // PAGE_BYTES)
        overwrite(path, page * PAGE_BYTES, bytes(PAGE_BYTES))


def swap(path: Path, chance: random.Random) -> None:
    """Put something else in the store's place."""
    kind = chance.randrange(4)
    if kind == 0:
        path.write_bytes(b"")
    elif kind == 1:
        path.write_bytes(chance.randbytes(40_000))
    elif kind == 2:
        pages = path.read_bytes()
        half = len(pages) // 2 // PAGE_BYTES * PAGE_BYTES
        path.write_bytes(pages[:PAGE_BYTES] + pages[half:] + pages[PAGE_BYTES:half])
    else:
        path.unlink()
        with closing(sqlite3.connect(path)) as connection, connection:
            connection.execute("CREATE TABLE frame (x)")
            connection.execute("CREATE TABLE measure (x)")
            connection.execute("CREATE TABLE shoot (x)")


def change_rows(path: Path, chance: random.Random) -> None:
    """Change columns as no program would, with the database whole."""
    choices = (
        "UPDATE measure SET name = 'planes' WHERE name = 'failure'",
        "UPDATE measure SET record = zeroblob(length(record)) WHERE id % 3 = 0",
        "UPDATE measure SET record = CAST(record AS TEXT) WHERE id % 5 = 0",
        "UPDATE measure SET version = version + 1 WHERE id % 4 = 0",
        "UPDATE frame SET content_key = content_key || 'x' WHERE id % 2 = 0",
        "UPDATE pile_up SET level_dn = 3.0, from_dn = 2.0",
        "UPDATE content SET digest = (SELECT digest FROM content ORDER BY place LIMIT 1)",
        "DELETE FROM measure WHERE id % 2 = 0",
        "DROP TABLE measure",
        "DROP TABLE conclusion",
        "ALTER TABLE measure RENAME COLUMN record TO other",
        "UPDATE conclusion SET audit = zeroblob(9)",
        "UPDATE shoot SET audit = x'00'",
    )
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.execute(choices[chance.randrange(len(choices))])


def odd_version(path: Path, chance: random.Random) -> None:
    name = chance.choice(("user_version", "application_id"))
    value = chance.choice((0, -1, VERSION - 1, VERSION + 1, 2**31 - 1))
    with closing(sqlite3.connect(path)) as connection:
        connection.execute(f"PRAGMA {name} = {value}")


def hostile_sizes(path: Path, chance: random.Random) -> None:
    """Let records promise what would take all memory, with a checksum that holds."""
    shape = chance.choice(((1 << 20, 1 << 20), (1 << 62,), (-1, 5), (1 << 20, 2)))
    array = ("f4", shape, to_bytes(np.zeros(4, np.float32)))
    record = b"\x00" + msgspec.msgpack.encode((array, None))
    with closing(sqlite3.connect(path)) as connection, connection:
        rows = connection.execute(
            """SELECT measure.id, content_key, settings_key, version FROM measure
            JOIN frame ON frame.id = frame_id WHERE name = 'detail'"""
        ).fetchall()
        for row_id, content, settings, version in rows:
            told = checksum(content, settings, "detail", version, record)
            change = "UPDATE measure SET record = ?, checksum = ? WHERE id = ?"
            connection.execute(change, (record, told, row_id))
        connection.execute("DELETE FROM conclusion")


CORRUPTIONS: tuple[Callable[[Path, random.Random], None], ...] = (
    flip,
    flip_sixteen,
    flip_in_header,
    cut,
    zero_pages,
    swap,
    change_rows,
    odd_version,
    hostile_sizes,
)


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("corrupt", CORRUPTIONS, ids=lambda function: function.__name__)
def test_an_audit_with_a_corrupted_store_ends_with_the_same_reports_in_one_run(
    bench: Bench, tmp_path: Path, corrupt: Callable[[Path, random.Random], None], seed: int
) -> None:
    outcome = audited(bench, tmp_path, corrupt, seed)
    assert outcome.failure is None


@dataclass(frozen=True)
class Tried:
    """What came of one audit: what went wrong, if anything, and whether damage was met at all."""

    failure: str | None
    met: bool


def audited(
    bench: Bench, folder: Path, corrupt: Callable[[Path, random.Random], None], seed: int
) -> Tried:
    bench.corrupted(folder, corrupt, seed)
    listener = KeepingListener()
    try:
        end = run_audit(request_for(bench.card, folder), listener)
    except Exception as error:  # whatever it is, it is what is looked for
        return Tried(f"{type(error).__name__}: {error}", met=True)
    written = json.loads((folder / "out" / "audit.json").read_text(encoding="utf-8"))
    same = bare(end.audit) == bench.audit and len(written["frames"]) == FILES
    return Tried(None if same else f"another audit; {listener.warnings}",
                 met=bool(listener.warnings or listener.examined_files))  # fmt: skip


def test_the_corruptions_are_met(bench: Bench, tmp_path: Path) -> None:
    """A store that is never read would pass every case above."""
    met = [audited(bench, tmp_path, corrupt, 1).met for corrupt in (change_rows, swap, cut)]
    assert met == [True] * 3
    assert not audited(bench, tmp_path, lambda *_: None, 1).met


@pytest.mark.slow
@pytest.mark.skipif("MANY_CORRUPTIONS" not in os.environ, reason="takes an hour: 3,000 stores")
def test_many_more_corruptions(bench: Bench, tmp_path: Path) -> None:
    first = int(os.environ.get("CORRUPTIONS_FROM", "100"))
    tried = {
        (corrupt.__name__, seed): audited(bench, tmp_path, corrupt, seed)
        for seed in range(first, first + int(os.environ["MANY_CORRUPTIONS"]))
        for corrupt in CORRUPTIONS
    }
    print(f"{len(tried)} stores, damage met in {sum(one.met for one in tried.values())}")
    assert {case: one.failure for case, one in tried.items() if one.failure} == {}
