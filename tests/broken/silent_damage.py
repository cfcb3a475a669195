"""How much damage of a card is told, and how often a whole frame is called damaged.

``python -m tests.broken.silent_damage --count 15`` makes the frames of the sample evening, plain
and compressed, tells how many whole ones show a sign of damage, then loses sectors of them in many
ways and tells how many of the changed ones were told. ``--count 0 --shoots all`` counts false
alarms over every shoot of the sample maker. The tables go into the docs (``promises.md``).
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
from auditor.examine import examine_file
from auditor.model.errors import UnreadableFile
from auditor.model.facts import FileFacts
from auditor.model.settings import MeasureSettings
from auditor.read.raw import read_raw
from auditor.task import ExamineTask
from sample_generation.dng import DngOptions, dng_bytes
from sample_generation.frames import expose_shot, facts_of
from sample_generation.shoots import SHOOTS

KIB = 1024
WAYS: tuple[tuple[str, int], ...] = (
    ("zeros", 32 * KIB), ("ones", 32 * KIB), ("random", 32 * KIB), ("random", 512),
    ("of this file", 32 * KIB), ("of another file", 32 * KIB), ("of another file", 4 * KIB),
    ("stuck bit 12", 512), ("stuck bit 8", 512),
)  # fmt: skip
"""What a cluster holds instead, and its bytes."""

PACKING = ("plain", "packed")


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
    return "certain" if any(sign.kind.certain for sign in signs) else "may be"


def frames(
    folder: Path, megapixels: float, *, compressed: bool, shoot: str = "evening"
) -> Iterator[Path]:
    """Make the whole frames of a sample shoot."""
    options = DngOptions(compressed=compressed)
    for number, shot in enumerate(SHOOTS[shoot](7).shots):
        if "cut off" not in shot.kinds:
            path = folder / f"{shoot}-{'packed' if compressed else 'plain'}-{number:03d}.DNG"
            exposure = expose_shot(shot, megapixels)
            path.write_bytes(
                dng_bytes(exposure, facts_of(shot), style=shot.body.style, options=options)
            )
            yield path


def run(given: argparse.Namespace) -> None:
    """Print the tables."""
    engine = LocalEngine(given.workers, 60.0, memory_limit_mb=2048)
    for compressed in (kind == "packed" for kind in given.packing):
        kind = "lossless JPEG" if compressed else "uncompressed"
        for shoot in SHOOTS if given.shoots == ["all"] else given.shoots:
            with tempfile.TemporaryDirectory(prefix="silent-") as folder:
                made = frames(Path(folder), given.megapixels, compressed=compressed, shoot=shoot)
                paths = [str(path) for path in made]
                whole = Counter(outcome.value for outcome in engine.run(seen, paths))
                _print(kind, f"whole, {shoot}", len(paths), whole)
                for way, (how, length) in enumerate(WAYS if given.count else ()):
                    if compressed and how.startswith("stuck"):
                        continue
                    jobs = [_job(paths, way, number) for number in range(given.count)]
                    ends = Counter(outcome.value for outcome in engine.run(told, jobs))
                    size = f"{length // KIB} KiB" if length >= KIB else f"{length} B"
                    _print(kind, f"{how}, {size}", given.count - ends["unchanged"], ends)
    engine.close()


def _print(kind: str, name: str, count: int, ends: Counter[str | None]) -> None:
    told_as = " | ".join(str(ends[end]) for end in ("certain", "may be", "refused", "silent"))
    print(f"| {kind} | {name} | {count} | {told_as} |", flush=True)


def _job(paths: Sequence[str], way: int, number: int) -> Job:
    path, other = paths[number % len(paths)], paths[(7 * number + 3) % len(paths)]
    return Job(path, other, way, 1000 * way + number)


def main() -> int:
    """Run the table."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--count", type=int, default=30)
    parser.add_argument("--megapixels", type=float, default=4.0)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--packing", nargs="+", choices=PACKING, default=PACKING)
    parser.add_argument("--shoots", nargs="+", choices=["all", *SHOOTS], default=["evening"])
    run(parser.parse_args())
    return 0


if __name__ == "__main__":
    sys.exit(main())
