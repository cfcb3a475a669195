"""Measure speed and memory as ratios within one run; print a table, write reports/bench.md."""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from statistics import median

import pytest

from auditor.files.atomic import write_text
from tests.bench import machine
from tests.bench.frames import frame_with_digest, large_frames, season
from tests.bench.html_report import measure_html

ROOT = Path(__file__).parents[2]
REPORT = ROOT / "reports" / "bench.md"
FRAMES = ROOT / "reports" / "bench-frames"

Figures = dict[str, float]


@dataclass(frozen=True)
class Row:
    """One line of the table. ``limit`` is what was promised; None where nothing was."""

    what: str
    measured: str
    ratio: float | None = None
    limit: float | None = None
    at_least: bool = False

    @property
    def holds(self) -> bool | None:
        if self.ratio is None or self.limit is None:
            return None
        return self.ratio >= self.limit if self.at_least else self.ratio <= self.limit

    def cells(self) -> tuple[str, ...]:
        ratio = "" if self.ratio is None else f"{self.ratio:.2f}"
        sign = "≥" if self.at_least else "≤"
        promised = "" if self.limit is None else f"{sign} {self.limit:g}"
        verdict = {None: "", True: "yes", False: "NO"}[self.holds]
        return self.what, self.measured, ratio, promised, verdict


class Runs:
    """Runs parts in fresh processes, in turns, so that all see the same machine."""

    def __init__(self, rounds: int) -> None:
        self._rounds = rounds

    def median(self, *parts: tuple[str, ...]) -> list[Figures]:
        """Run each part in every round; return each part's medians."""
        told: list[list[Figures]] = [[] for _ in parts]
        for _ in range(self._rounds):
            for place, part in enumerate(parts):
                told[place].append(run_part(*part))
        return [{name: median(one[name] for one in runs) for name in runs[0]} for runs in told]


def run_part(name: str, *arguments: str) -> Figures:
    done = subprocess.run(
        [sys.executable, "-m", "tests.bench.parts", name, *arguments],
        cwd=ROOT, check=True, capture_output=True, text=True,
    )  # fmt: skip
    figures: Figures = json.loads(done.stdout)
    return figures


def cost_of(*command: str) -> tuple[float, float]:
    """Run a command; return processor and wall seconds of it and its children."""
    began = time.perf_counter()
    process = subprocess.Popen(command, cwd=ROOT, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
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


def of_one_core(runs: Runs, files: list[str], digest: str) -> Iterator[Row]:
    decode, examine, script, alone, with_digest, kept = runs.median(
        ("decode", *files), ("examine", *files), ("script", *files),
        ("decode", digest), ("examine", digest), ("keep", *files[:2]),
    )  # fmt: skip
    base = decode["cpu_s"]
    yield Row("decode alone (LibRaw), a frame", f"{base * 1e3:.0f} ms")
    yield Row(
        "a worker's whole work on a frame / decode alone",
        f"{examine['cpu_s'] * 1e3:.0f} ms", examine["cpu_s"] / base, 1.3,
    )  # fmt: skip
    yield Row(
        "the same, a frame with a digest of its pixels to check",
        f"{with_digest['cpu_s'] * 1e3:.0f} ms", with_digest["cpu_s"] / alone["cpu_s"],
    )  # fmt: skip
    yield Row("taking in and storing a frame / decode alone",
        f"{kept['cpu_s'] * 1e3:.1f} ms ({kept['stored_mb']:.2f} MB stored)",
        kept["cpu_s"] / base,
    )  # fmt: skip
    yield Row(
        "peak memory of a worker / of a process that only decodes",
        f"{examine['peak_mb']:.0f} MB / {decode['peak_mb']:.0f} MB",
        examine["peak_mb"] / decode["peak_mb"], 1.3,
    )  # fmt: skip
    above = examine["peak_mb"] - examine["idle_mb"]
    yield Row("peak memory of a worker above an idle one, MB", f"{above:.0f} MB", above, 260.0)
    yield Row(
        "peak memory of the plain script / of a process that only decodes",
        f"{script['peak_mb']:.0f} MB", script["peak_mb"] / decode["peak_mb"],
    )  # fmt: skip
    yield from of_whole_audit(files, 12, decode, script)


def of_whole_audit(files: list[str], repeat: int, base: Figures, script: Figures) -> Iterator[Row]:
    """The command as a user runs it, start-up and reports included."""
    with tempfile.TemporaryDirectory() as folder:
        card = many_named(files, repeat, Path(folder) / "card")
        count = len(list(card.iterdir()))
        with on_one_core():
            cpu_s, wall_s = cost_of(*audit_command(card, folder), "--workers", "1")
        _, audit_s = cost_of(*audit_command(card, folder))
        drawn = Path(folder) / "drawn"
        drawn.mkdir()
        names = sorted(str(path) for path in card.iterdir())[:12]
        _, script_s = cost_of(sys.executable, "-m", "tests.bench.plain_script", str(drawn), *names)
    again = run_part("decode", *files)
    each_s, decode_s = cpu_s / count, (base["cpu_s"] + again["cpu_s"]) / 2
    yield Row(
        f"the whole audit of {count} frames on one core, start-up to report / decode alone",
        f"{each_s * 1e3:.0f} ms a frame ({wall_s / count * 1e3:.0f} by the clock)",
        each_s / decode_s, 1.3,
    )  # fmt: skip
    yield Row(
        "the plain script / the whole audit, both on one core",
        f"{script['cpu_s'] * 1e3:.0f} ms a frame", script["cpu_s"] / each_s,
    )  # fmt: skip
    yield Row(
        "the same, what LibRaw's decode takes left out of both",
        f"{(script['cpu_s'] - decode_s) * 1e3:.0f} / {(each_s - decode_s) * 1e3:.0f} ms",
        (script["cpu_s"] - decode_s) / (each_s - decode_s),
    )  # fmt: skip
    yield Row(
        "the same by the clock, as one runs them on this machine",
        f"{script_s / len(names) * 1e3:.0f} / {audit_s / count * 1e3:.0f} ms a frame",
        script_s / len(names) / (audit_s / count), 3.0, at_least=True,
    )  # fmt: skip


def many_named(files: list[str], repeat: int, card: Path) -> Path:
    """Make a card that holds each file under several names, each told apart by its last bytes."""
    card.mkdir()
    for number in range(repeat * len(files)):
        content = Path(files[number % len(files)]).read_bytes()
        (card / f"F45_{number:04d}.DNG").write_bytes(content + number.to_bytes(8, "big"))
    return card


def audit_command(card: Path, folder: str) -> tuple[str, ...]:
    return (
        sys.executable, "-m", "auditor", "audit", str(card), "--out", f"{folder}/out",
        "--no-store", "--quiet", "--format", "json", "--format", "csv",
    )  # fmt: skip


def of_two_workers(runs: Runs, files: list[str]) -> Iterator[Row]:
    one, two = runs.median(("spread", "1", *files * 3), ("spread", "2", *files * 3))
    yield Row(
        "frames an hour with two workers / with one",
        f"{3600 / two['wall_s']:.0f} / {3600 / one['wall_s']:.0f}",
        one["wall_s"] / two["wall_s"], 1.85, at_least=True,
    )  # fmt: skip


def of_second_audit() -> Iterator[Row]:
    with tempfile.TemporaryDirectory() as folder:
        cards = [str(card) for card in season(FRAMES)]
        told = run_part("again", folder, *cards)
    frames = int(told["frames"])
    yield Row(
        f"an unchanged card of {frames} frames audited again, ms a frame",
        f"{told['cpu_s'] * 1e3:.2f} ms", told["cpu_s"] * 1e3, 3.0,
    )  # fmt: skip
    reports = ", ".join(
        f"{name} {told[f'{name}_cpu_s'] * 1e3:.2f}" for name in ("json", "csv", "md", "html", "png")
    )
    yield Row("building each report, ms a frame", reports)


def of_browser() -> Iterator[Row]:
    try:
        told = measure_html(2000)
    except pytest.skip.Exception as reason:
        yield Row("the HTML report in a browser", f"not measured: {reason}")
        return
    ratio = told.load_ms / max(1.0, told.empty_load_ms)
    yield Row(
        "loading an HTML report of 2,000 frames / an empty page, by the clock",
        f"{told.load_ms:.0f} ms / {told.empty_load_ms:.0f} ms ({told.megabytes:.0f} MB)", ratio,
    )  # fmt: skip
    yield Row("the same, seconds", "", told.load_ms / 1e3, 1.0)
    yield Row("sorting 2,000 frames, ms", "", told.sort_ms, 100.0)
    yield Row("filtering 2,000 frames, ms", "", told.filter_ms, 100.0)


def of_start() -> Iterator[Row]:
    def least(*command: str) -> float:
        return min(cost_of(*command)[1] for _ in range(5))

    helped = least(sys.executable, "-m", "auditor", "--help")
    bare = least(sys.executable, "-c", "pass")
    yield Row("auditor --help, seconds", f"{helped * 1e3:.0f} ms", helped, 0.3)
    yield Row("auditor --help / an empty Python", f"{bare * 1e3:.0f} ms", helped / bare)


def all_rows(megapixels: float, frames: int, rounds: int) -> Iterator[Row]:
    runs = Runs(rounds)
    files = [str(path) for path in large_frames(FRAMES, megapixels, frames)]
    digest = str(frame_with_digest(FRAMES, megapixels))
    yield from of_one_core(runs, files, digest)
    yield from of_two_workers(runs, files)
    yield from of_second_audit()
    yield from of_start()
    yield from of_browser()


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__)
    parser.add_argument("--megapixels", type=float, default=45.0)
    parser.add_argument("--frames", type=int, default=4)
    parser.add_argument("--rounds", type=int, default=3)
    given = parser.parse_args()
    load = machine.load()
    rows = []
    for row in all_rows(given.megapixels, given.frames, given.rounds):
        rows.append(row)
        print(" | ".join(row.cells()), flush=True)
    write_text(REPORT, page(rows, given.megapixels, load))
    print(f"Written: {REPORT.relative_to(ROOT)}")
    return int(any(row.holds is False for row in rows))


def page(rows: list[Row], megapixels: float, load: float) -> str:
    """The table as Markdown, with the machine it was measured on."""
    busy = (
        f"\nThe machine was busy with other work meanwhile (load {load:.1f}): figures by the clock "
        "are worse than on an idle one.\n"
        if load > 0.7
        else ""
    )
    lines = [
        "# Benches",
        "",
        f"Made by `make bench` on {date.today().isoformat()}. Frames of {megapixels:g} megapixels, "
        "lossless JPEG in tiles, unless said otherwise. Every ratio is of two figures of this run; "
        "processor time on one core unless it says by the clock.",
        busy,
        *machine.description(),
        "",
        "| what | measured | ratio or figure | promised | holds |",
        "| --- | --- | --- | --- | --- |",
        *(f"| {' | '.join(row.cells())} |" for row in rows),
        "",
    ]
    return "\n".join(lines)


if __name__ == "__main__":
    raise SystemExit(main())
