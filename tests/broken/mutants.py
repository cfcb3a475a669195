"""Mutants of raw files, each made again from its number alone; and a long run over many of them.

``python -m tests.broken.mutants --count 3000 FILE...`` sends every mutant through finding,
measuring, judging and the JSON report in worker processes, and tells by file what came of them.
A mutant is well treated when it is measured or refused with a reason; a fault of the program, a
crash or a hang is listed with its number.
"""

from __future__ import annotations

import argparse
import os
import random
import struct
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from auditor.conclude import conclude
from auditor.engine.local import LocalEngine
from auditor.examine import examine_file
from auditor.model.errors import UnreadableFile
from auditor.model.settings import Settings
from auditor.read.card import find_files
from auditor.report.json_report import build_frame_json
from auditor.task import ExamineTask
from tests.memory_source import MemoryMeasurementSource

HEADER_BYTES = 4096
NASTY_NUMBERS = (0, 1, 2, 0x7FFF, 0xFFFF, 0x10000, 0x7FFFFFFF, 0x80000000, 0xFFFFFFFE, 0xFFFFFFFF)
BAD_ENDS = frozenset({"internal", "worker-died", "timed-out", "out-of-memory"})


@dataclass(frozen=True)
class Mutant:
    """One mutant: the file it is made from, and its number."""

    source: str
    number: int


@dataclass(frozen=True)
class Told:
    """What came of one mutant, and the processor time it took."""

    how: str
    code: str
    took_s: float


def mutate(content: bytes, number: int) -> tuple[str, bytes]:
    """Return the name of the change and the changed content; the same for the same number."""
    chance = random.Random(number)
    name, change = WAYS[number % len(WAYS)]
    return name, bytes(change(bytearray(content), chance))


def _flip_header(held: bytearray, chance: random.Random) -> bytearray:
    for _ in range(chance.choice((1, 2, 12))):
        held[chance.randrange(min(HEADER_BYTES, len(held)))] ^= 1 << chance.randrange(8)
    return held


def _change_bytes(held: bytearray, chance: random.Random) -> bytearray:
    for _ in range(chance.choice((1, 8, 64))):
        held[chance.randrange(len(held))] = chance.randrange(256)
    return held


def _zero_sectors(held: bytearray, chance: random.Random) -> bytearray:
    start, length = _sector(held, chance)
    held[start : start + length] = bytes(len(held[start : start + length]))
    return held


def _foreign_sectors(held: bytearray, chance: random.Random) -> bytearray:
    start, length = _sector(held, chance)
    room = len(held[start : start + length])
    other = chance.randrange(len(held))
    piece = held[other : other + room]
    held[start : start + room] = piece + chance.randbytes(room - len(piece))
    return held


def _sector(held: bytearray, chance: random.Random) -> tuple[int, int]:
    length = 512 << chance.randrange(8)
    return chance.randrange(max(1, len(held) // 512)) * 512, length


def _cut(held: bytearray, chance: random.Random) -> bytearray:
    return held[: chance.choice((chance.randrange(len(held)), len(held) - chance.randrange(2000)))]


def _shift(held: bytearray, chance: random.Random) -> bytearray:
    place, count = chance.randrange(len(held)), chance.choice((1, 2, 512))
    if chance.random() < 0.5:
        del held[place : place + count]
    else:
        held[place:place] = chance.randbytes(count)
    return held


def _change_entry(held: bytearray, chance: random.Random) -> bytearray:
    """Give one directory entry a nasty type, count or value; a directory may point at itself."""
    order = "<" if held[:2] == b"II" else ">"
    entries = list(_entries(bytes(held), order))
    if not entries:
        return _flip_header(held, chance)
    directory, place = chance.choice(entries)
    number = chance.choice((*NASTY_NUMBERS, directory, chance.getrandbits(32), len(held)))
    if chance.random() < 0.25:
        struct.pack_into(order + "H", held, place + chance.choice((0, 2)), number & 0xFFFF)
    else:
        struct.pack_into(order + "I", held, place + chance.choice((4, 8)), number & 0xFFFFFFFF)
    return held


def _entries(held: bytes, order: str) -> Iterator[tuple[int, int]]:
    """Yield (directory, entry) places of every TIFF directory, sub-directories included."""
    if len(held) < 8 or held[:2] not in (b"II", b"MM"):
        return
    waiting: list[int] = [struct.unpack_from(order + "I", held, 4)[0]]
    seen: set[int] = set()
    while waiting and len(seen) < 20:
        directory = waiting.pop()
        if directory in seen or directory + 2 > len(held):
            continue
        seen.add(directory)
        (count,) = struct.unpack_from(order + "H", held, directory)
        places = range(directory + 2, directory + 2 + 12 * min(count, 200), 12)
        for place in places:
            if place + 12 > len(held):
                break
            yield directory, place
            tag, kind, many, value = struct.unpack_from(order + "HHII", held, place)
            if tag in (330, 34665, 34853) and kind in (4, 13) and many == 1:
                waiting.append(value)
        after = directory + 2 + 12 * count
        if after + 4 <= len(held):
            waiting.append(struct.unpack_from(order + "I", held, after)[0])


WAYS: tuple[tuple[str, Callable[[bytearray, random.Random], bytearray]], ...] = (
    ("header flips", _flip_header),
    ("directory entry", _change_entry),
    ("random bytes", _change_bytes),
    ("zeroed sectors", _zero_sectors),
    ("foreign sectors", _foreign_sectors),
    ("cut off", _cut),
    ("shifted", _shift),
)


def examine_mutant(mutant: Mutant) -> Told:
    """Make a mutant and take it all the way from the card to the report."""
    began = time.process_time()
    source = Path(mutant.source)
    how, content = mutate(source.read_bytes(), mutant.number)
    with tempfile.TemporaryDirectory(prefix="mutant-") as folder:
        path = Path(folder) / f"{mutant.number}{source.suffix}"
        path.write_bytes(content)
        code = _audited(path)
    return Told(how, code, time.process_time() - began)


def _audited(path: Path) -> str:
    settings = Settings()
    found = find_files([str(path.parent)])
    if not found.files:
        return found.problems[0][1] if found.problems else "passed over"
    (file,) = found.files
    try:
        measured = examine_file(ExamineTask(file.path, file.kind, settings.measure))
    except UnreadableFile as error:
        return error.code
    measurements = MemoryMeasurementSource({file.id: measured})
    build_frame_json(conclude([file], {}, measurements, settings).frames[0])
    return "measured"


def run(files: Sequence[str], numbers: range, workers: int, time_limit_s: float) -> int:
    """Send the mutants through, print what came of them, and return how many fared badly."""
    engine = LocalEngine(workers, time_limit_s, memory_limit_mb=2048)
    bad = 0
    for file in files:
        mutants = [Mutant(file, number) for number in numbers]
        codes: Counter[str] = Counter()
        slowest = (0.0, 0)
        for outcome in engine.run(examine_mutant, mutants):
            told, number = outcome.value, mutants[outcome.index].number
            code = told.code if told else outcome.failure.code if outcome.failure else "nothing"
            codes[code] += 1
            slowest = max(slowest, (told.took_s if told else 0.0, number))
            if code in BAD_ENDS or not told:
                bad += 1
                why = outcome.failure.message if outcome.failure else "as a reason"
                print(f"  {Path(file).name} {number}: {code}: {why}")
        assert codes.total() == len(mutants), "a mutant is not accounted for"
        ends = ", ".join(f"{code} {count}" for code, count in codes.most_common())
        print(f"{Path(file).name}: {len(mutants)} mutants: {ends}")
        print(f"  slowest: {slowest[0]:.1f} s, number {slowest[1]}")
        sys.stdout.flush()
    engine.close()
    return bad


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("files", nargs="+", metavar="FILE")
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--count", type=int, default=3000)
    parser.add_argument("--workers", type=int, default=len(os.sched_getaffinity(0)))
    parser.add_argument("--time-limit", type=float, default=30.0)
    given = parser.parse_args()
    numbers = range(given.first, given.first + given.count)
    return int(run(given.files, numbers, given.workers, given.time_limit) > 0)


if __name__ == "__main__":
    raise SystemExit(main())
