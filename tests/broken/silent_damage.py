"""How much damage of a card is told, and how often a whole frame is called damaged.

``python -m tests.broken.silent_damage --count 30`` makes the frames of every shoot of the sample
maker, plain and compressed, tells how many whole ones show a sign of damage, then loses sectors of
them in many ways and tells how many of the changed ones were told. The table goes into the docs.
"""

from __future__ import annotations

import argparse
import random
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from auditor.engine.local import LocalEngine
from auditor.examine import ExamineTask, examine_file
from auditor.model.errors import UnreadableFile
from auditor.model.facts import FileFacts
from auditor.model.settings import MeasureSettings
from auditor.read.raw import read_raw
from sample_generation.dng import DngOptions, dng_bytes
from sample_generation.evening import evening
from sample_generation.frames import expose_shot, facts_of

KIB = 1024
WAYS: tuple[tuple[str, int], ...] = (
    ("zeros", 32 * KIB), ("ones", 32 * KIB), ("random", 32 * KIB), ("random", 512),
    ("of this file", 32 * KIB), ("of another file", 32 * KIB), ("of another file", 4 * KIB),
    ("stuck bit 12", 512), ("stuck bit 8", 512),
)  # fmt: skip
"""What a cluster holds instead, and its bytes."""


@dataclass(frozen=True)
class Job:
    """One frame, and one loss of it."""

    path: str
    other: str
    way: int
    number: int


def lost(content: bytes, other: bytes, job: Job) -> bytes:
    """Return a file of which one cluster of its pixels holds something else."""
    how, length = WAYS[job.way]
    chance, held = random.Random(job.number), bytearray(content)
    # the raw picture fills the file from about a tenth on; the preview lies before it
    at = chance.randrange(len(held) // 5 // 512, (len(held) - length) // 512) * 512
    piece = bytes(held[at : at + length])
    if how == "zeros":
        piece = bytes(length)
    elif how == "ones":
        piece = b"\xff" * length
    elif how == "random":
        piece = chance.randbytes(length)
    elif how.startswith("of "):
        source = held if how == "of this file" else other
        begin = chance.randrange(len(source) // 5 // 512, (len(source) - length) // 512) * 512
        piece = bytes(source[begin : begin + length])
    else:
        samples = np.frombuffer(piece, dtype="<u2") | np.uint16(1 << int(how.split()[-1]))
        piece = samples.astype("<u2").tobytes()
    held[at : at + length] = piece
    return bytes(held)


def told(job: Job) -> str:
    """Say of one loss how it was told: certain, may be, refused, silent; or that it is none."""
    content = Path(job.path).read_bytes()
    spoilt = lost(content, Path(job.other).read_bytes(), job)
    before = read_raw(content, "dng", FileFacts()).mosaic.pixels
    try:
        after = read_raw(spoilt, "dng", FileFacts()).mosaic.pixels
    except UnreadableFile:
        return "refused"
    if np.array_equal(before, after):
        return "unchanged"
    with tempfile.TemporaryDirectory(prefix="silent-") as folder:
        path = Path(folder) / "a.dng"
        path.write_bytes(spoilt)
        return seen(str(path))


def seen(path: str) -> str:
    """Say which signs of damage a file shows: "silent" for none."""
    try:
        signs = examine_file(ExamineTask(path, "dng", MeasureSettings())).mosaic.damage
    except UnreadableFile:
        return "refused"
    if not signs:
        return "silent"
    return "certain" if any(sign.certain for sign in signs) else "may be"


def frames(folder: Path, megapixels: float, *, compressed: bool) -> Iterator[Path]:
    """Make the whole frames of the sample evening."""
    options = DngOptions(compressed=compressed)
    for number, shot in enumerate(evening(7).shots):
        if "cut off" not in shot.kinds:
            path = folder / f"{'packed' if compressed else 'plain'}-{number:02d}.DNG"
            exposure = expose_shot(shot, megapixels)
            path.write_bytes(
                dng_bytes(exposure, facts_of(shot), style=shot.body.style, options=options)
            )
            yield path


def run(count: int, megapixels: float, workers: int) -> None:
    """Print the table."""
    engine = LocalEngine(workers, 60.0, memory_limit_mb=2048)
    with tempfile.TemporaryDirectory(prefix="silent-") as folder:
        for compressed in (False, True):
            paths = [str(path) for path in frames(Path(folder), megapixels, compressed=compressed)]
            whole = Counter(outcome.value for outcome in engine.run(seen, paths))
            kind = "lossless JPEG" if compressed else "uncompressed"
            print(f"| {kind} | whole | {len(paths)} | {whole['certain']} | {whole['may be']} | "
                  f"{whole['refused']} | {whole['silent']} |", flush=True)  # fmt: skip
            for way, (how, length) in enumerate(WAYS):
                if compressed and how.startswith("stuck"):
                    continue
                jobs = [_job(paths, way, number) for number in range(count)]
                ends = Counter(outcome.value for outcome in engine.run(told, jobs))
                changed = count - ends["unchanged"]
                name = f"{how}, {length // KIB} KiB" if length >= KIB else f"{how}, {length} B"
                print(f"| {kind} | {name} | {changed} | {ends['certain']} | {ends['may be']} | "
                      f"{ends['refused']} | {ends['silent']} |", flush=True)  # fmt: skip
    engine.close()


def _job(paths: Sequence[str], way: int, number: int) -> Job:
    path, other = paths[number % len(paths)], paths[(7 * number + 3) % len(paths)]
    return Job(path, other, way, 1000 * way + number)


def main() -> int:
    """Run the table."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--count", type=int, default=30)
    parser.add_argument("--megapixels", type=float, default=4.0)
    parser.add_argument("--workers", type=int, default=2)
    given = parser.parse_args()
    run(given.count, given.megapixels, given.workers)
    return 0


if __name__ == "__main__":
    sys.exit(main())
