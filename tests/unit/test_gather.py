"""Who a file is: its bytes decide what is known, what is a copy, and what a failure belongs to."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from auditor import gather as gathering
from auditor.examine import examine_packed
from auditor.gather import Gathered, gather
from auditor.model.errors import FailureKind, FrameFailure, UnreadableFile
from auditor.model.facts import CardFile, DifferingCopy
from auditor.model.outcome import Outcome
from auditor.read.card import find_files
from auditor.request import AuditRequest
from auditor.store.store import Store
from auditor.task import Examined, ExamineTask
from tests.built_dng import write_dng
from tests.evening_audit import KeepingListener

TIME = 10**18


class Bench:
    """Cards, a store, and an engine in this process that tells what it decoded."""

    def __init__(self, root: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        self.root = root
        self.decoded: list[str] = []
        self.read: list[str] = []
        self.before_reading: Callable[[str], None] = lambda path: None
        self.listener = KeepingListener()
        monkeypatch.setattr(gathering, "make_engine", lambda *_: self)

    def frame(self, path: str, seed: int = 1) -> Path:
        place = self.root / path
        place.parent.mkdir(exist_ok=True)
        pixels = np.random.default_rng(seed).normal(3000, 90, (300, 400)).astype(np.uint16)
        write_dng(place, pixels)
        os.utime(place, ns=(TIME, TIME))
        return place

    def rewrite(self, path: str) -> None:
        self.frame(path, seed=2)

    def run(self, function: object, tasks: Sequence[ExamineTask]) -> Iterator[Outcome[Examined]]:
        for index, task in enumerate(tasks):
            name = str(Path(task.path).relative_to(self.root))
            self.before_reading(name)
            self.read.append(name)
            try:
                read = examine_packed(task)
            except UnreadableFile as error:
                yield Outcome(index, None, FrameFailure(error.code, error.message))
                continue
            if read.result is not None:
                self.decoded.append(name)
            yield Outcome(index, read)

    def close(self) -> None:
        pass

    def gather(self, *cards: str, **asked: Any) -> Gathered:
        self.decoded.clear()
        self.read.clear()
        self.listener = KeepingListener()
        paths = tuple(str(self.root / card) for card in cards)
        request = AuditRequest(paths, self.root / "out", **asked)
        with Store.open(self.root / "store.sqlite") as store:
            return gather(find_files(paths), request, store, self.listener)


@pytest.fixture
def bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Bench:
    return Bench(tmp_path, monkeypatch)


def rot(path: Path, keep_time: bool = True) -> None:
    """Change one bit in the middle of a file."""
    data = bytearray(path.read_bytes())
    data[len(data) // 2] ^= 1
    with path.open("r+b") as stream:
        stream.write(data)
    if keep_time:
        os.utime(path, ns=(TIME, TIME))


def files(gathered: Gathered) -> dict[str, CardFile]:
    return {file.id: file for file in gathered.found.files}


def test_a_file_that_lies_untouched_is_not_even_read(bench: Bench) -> None:
    bench.frame("one/a.dng")
    bench.gather("one")
    assert bench.decoded == ["one/a.dng"]
    bench.gather("one")
    assert bench.read == []
    assert bench.listener.known == 1


def test_a_file_moved_or_copied_anew_is_read_and_not_decoded(bench: Bench) -> None:
    first = bench.frame("one/a.dng")
    bench.gather("one")
    copy = bench.root / "two" / "b.dng"
    copy.parent.mkdir()
    shutil.copy2(first, copy)
    gathered = bench.gather("two")
    assert (bench.read, bench.decoded, gathered.failures) == (["two/b.dng"], [], {})


def test_a_bit_that_rots_in_place_is_measured_as_what_it_is(bench: Bench) -> None:
    path = bench.frame("one/a.dng")
    before = files(bench.gather("one"))["a.dng"].content_key
    rot(path)
    gathered = bench.gather("one")
    assert bench.decoded == ["one/a.dng"]
    assert files(gathered)["a.dng"].content_key != before


@pytest.mark.parametrize("rotten", ["one", "two"])
def test_a_copy_rotten_in_the_middle_neither_hides_nor_condemns(bench: Bench, rotten: str) -> None:
    for card in ("one", "two"):
        bench.frame(f"{card}/a.dng")
    rot(bench.root / rotten / "a.dng")
    found = files(bench.gather("one", "two"))
    assert bench.decoded == ["one/a.dng", "two/a.dng"]
    assert found["a.dng"].content_key != found["2:a.dng"].content_key
    assert not any(file.also_at for file in found.values())
    assert [copy.id for copy in found["a.dng"].differing_copies] == ["2:a.dng"]


def test_of_true_copies_one_is_decoded_and_all_are_read(bench: Bench) -> None:
    for card in ("one", "two", "three"):
        bench.frame(f"{card}/a.dng")
    found = files(bench.gather("one", "two", "three"))
    assert (len(bench.read), bench.decoded) == (3, ["one/a.dng"])
    assert found["a.dng"].also_at == ("2:a.dng", "3:a.dng")
    assert found["2:a.dng"].content_key == found["a.dng"].content_key
    assert not any(file.differing_copies for file in found.values())


def test_a_hundred_rotten_copies_pass_as_copies_never(bench: Bench) -> None:
    """Mutants passed as copies: none of a hundred, wherever the bit lies between the ends."""
    whole = bench.frame("one/a.dng").read_bytes()
    (bench.root / "two").mkdir()
    rng = np.random.default_rng(9)
    for number in range(100):
        data = bytearray(whole)
        data[rng.integers(70_000, len(data) - 70_000)] ^= 1 << rng.integers(8)
        place = bench.root / "two" / f"m{number}.dng"
        place.write_bytes(data)
        os.utime(place, ns=(TIME, TIME))
    found = files(bench.gather("one", "two"))
    assert sum("a.dng" in file.also_at for file in found.values()) == 0
    assert len(found["a.dng"].differing_copies) == 100


def unreadable(bench: Bench, name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Let the medium fail in the middle of one file."""
    whole = examine_packed

    def read(task: ExamineTask) -> Examined:
        if task.path == str(bench.root / name):
            raise UnreadableFile("input-error", "It could not be read (Input/output error).")
        return whole(task)

    monkeypatch.setattr("tests.unit.test_gather.examine_packed", read)


def test_a_read_error_is_the_medium_s_and_is_not_believed_a_second_time(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    bench.frame("one/a.dng")
    with monkeypatch.context() as patched:
        unreadable(bench, "one/a.dng", patched)
        gathered = bench.gather("one")
    assert gathered.failures["a.dng"].kind is FailureKind.MEDIUM
    assert bench.gather("one").failures == {}  # in another reader, or copied again


def test_where_one_card_fails_the_other_is_measured_and_named_as_whole(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    for card in ("one", "two"):
        bench.frame(f"{card}/a.dng")
    unreadable(bench, "one/a.dng", monkeypatch)
    gathered = bench.gather("one", "two")
    assert list(gathered.failures) == ["a.dng"]
    assert files(gathered)["a.dng"].differing_copies == (DifferingCopy("2:a.dng", 2, True),)
    assert "card 2's copy is whole" in " ".join(bench.listener.warnings)


def test_a_damaged_file_is_read_again_and_cured_by_another_copy(bench: Bench) -> None:
    path = bench.frame("one/a.dng")
    whole = path.read_bytes()
    path.write_bytes(whole[:140_000])
    assert bench.gather("one").failures["a.dng"].kind is FailureKind.DAMAGED
    gathered = bench.gather("one")
    assert (bench.read, bench.decoded) == (["one/a.dng"], [])
    assert gathered.failures["a.dng"].kind is FailureKind.DAMAGED
    path.write_bytes(whole)
    os.utime(path, ns=(TIME, TIME))
    assert bench.gather("one").failures == {}


def test_a_file_that_changed_during_the_audit_is_told_and_measured_as_it_is_now(
    bench: Bench,
) -> None:
    path = bench.frame("one/a.dng")
    bench.before_reading = lambda name: bench.rewrite("one/a.dng")
    gathered = bench.gather("one")
    assert "changed during the audit" in " ".join(bench.listener.warnings)
    bench.before_reading = lambda name: None
    now = files(bench.gather("one"))["a.dng"].content_key
    assert files(gathered)["a.dng"].content_key == now
    assert path.exists()


def test_a_file_that_changed_after_it_was_measured_is_measured_again(bench: Bench) -> None:
    bench.frame("one/a.dng")
    bench.frame("one/b.dng", seed=3)

    def write_meanwhile(name: str) -> None:
        if name == "one/b.dng":
            bench.frame("one/a.dng", seed=2)

    bench.before_reading = write_meanwhile
    gathered = bench.gather("one")
    assert bench.decoded == ["one/a.dng", "one/b.dng", "one/a.dng"]
    bench.before_reading = lambda name: None
    assert files(gathered)["a.dng"] == files(bench.gather("one"))["a.dng"]


def test_again_measures_anew(bench: Bench) -> None:
    for card in ("one", "two"):
        bench.frame(f"{card}/a.dng")
    bench.gather("one", "two")
    bench.gather("one", "two", again=True)
    assert bench.decoded == ["one/a.dng"]


def test_a_stop_keeps_what_is_done(bench: Bench) -> None:
    for name in "abc":
        bench.frame(f"one/{name}.dng", seed=ord(name))

    def stop_at_b(name: str) -> None:
        if name == "one/b.dng":
            raise KeyboardInterrupt

    bench.before_reading = stop_at_b
    gathered = bench.gather("one")
    assert not gathered.complete
    assert {name: failure.code for name, failure in gathered.failures.items()} == {
        "b.dng": "interrupted", "c.dng": "interrupted"
    }  # fmt: skip
    bench.before_reading = lambda name: None
    assert bench.gather("one").complete
    assert bench.decoded == ["one/b.dng", "one/c.dng"]
