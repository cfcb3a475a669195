"""Parts and commands in processes of their own, and what they cost."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from statistics import median

ROOT = Path(__file__).parents[2]

Figures = dict[str, float]


@dataclass(frozen=True)
class Turns:
    """What one part told: processor seconds of each file, peak memory at rest and at work."""

    cpu_s: tuple[float, ...]
    peak_mb: float
    idle_mb: float

    @property
    def usual_s(self) -> float:
        return median(self.cpu_s)

    def over(self, other: Turns) -> float:
        """The median over the files of how many times as long this took as the other."""
        return median(a / b for a, b in zip(self.cpu_s, other.cpu_s, strict=True))


def take_turns(names: Sequence[str], files: Sequence[str]) -> list[Turns]:
    """Give each file to each part in turn: the speed of a machine drifts within minutes."""
    processes = [_started(name) for name in names]
    took = [[_ask(process, file) for process in processes] for file in files]
    ends = [json.loads(process.communicate()[0]) for process in processes]
    return [
        Turns(tuple(row[place] for row in took), end["peak_mb"], end["idle_mb"])
        for place, end in enumerate(ends)
    ]


def _started(name: str) -> subprocess.Popen[str]:
    """Begin a part in a process of its own."""
    return subprocess.Popen(
        [sys.executable, "-m", "tests.bench.parts", name],
        cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
    )  # fmt: skip


def _ask(process: subprocess.Popen[str], file: str) -> float:
    assert process.stdin is not None
    assert process.stdout is not None
    process.stdin.write(f"{file}\n")
    process.stdin.flush()
    return float(process.stdout.readline())


def run_part(name: str, *arguments: str) -> Figures:
    done = subprocess.run(
        [sys.executable, "-m", "tests.bench.parts", name, *arguments],
        cwd=ROOT, check=True, capture_output=True, text=True,
    )  # fmt: skip
    figures: Figures = json.loads(done.stdout)
    return figures


def cost_of(*command: str) -> tuple[float, float]:
    """Run a command; return processor and wall seconds of it and its children.

    With modules compiled once and kept, as every installation has them.
    """
    kept = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    began = time.perf_counter()
    process = subprocess.Popen(
        command, cwd=ROOT, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, env=kept
    )
    assert process.stderr is not None
    trouble = process.stderr.read()
    process.stderr.close()
    _, status, usage = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode:
        raise RuntimeError(f"{command}: {trouble.decode()}")
    return usage.ru_utime + usage.ru_stime, time.perf_counter() - began


@contextmanager
def on_one_core() -> Iterator[None]:
    """Bind what is started meanwhile to one core."""
    cores = os.sched_getaffinity(0)
    os.sched_setaffinity(0, {min(cores)})
    try:
        yield
    finally:
        os.sched_setaffinity(0, cores)
