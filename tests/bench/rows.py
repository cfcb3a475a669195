"""Every row of the benches, in groups that can be run alone."""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from statistics import median

import pytest

from auditor.engine.choose import usable_cores
from tests.bench import whole_audit
from tests.bench.frames import frame_with_digest, large_card, season, thousand
from tests.bench.html_report import measure_html
from tests.bench.runs import ROOT, Turns, cost_of, run_part, take_turns
from tests.bench.table import Row
from tests.bench.whole_audit import audit_command, card_of

FRAMES = ROOT / "reports" / "bench-frames"
LARGE = 8
"""Large frames that are worked on, spread over the sample evening."""

ROUNDS = 3
MEMORY_ROUNDS = 5
SYNTHETIC, ARCHIVE = 1000, 20_000
"""Synthetic frames judged and written; ``tests.bench.many_frames`` does as many as one likes."""

BEFORE_MEASURING = ("reading and digest", "facts", "preview", "decode")


@dataclass
class Bench:
    """What the groups share: frames that are made once, and LibRaw's decode of them."""

    megapixels: float

    @cached_property
    def files(self) -> list[str]:
        return [str(path) for path in large_card(FRAMES, self.megapixels, LARGE)]

    @cached_property
    def turns(self) -> dict[str, Turns]:
        """Decode alone and a worker's work in three ways, frame by frame in turns."""
        names = ("decode", "examine", "examine-by-libraw", "examine-with-pictures")
        return dict(zip(names, take_turns(names, self.files), strict=True))


def of_worker(bench: Bench) -> Iterator[Row]:
    decode, examine = bench.turns["decode"], bench.turns["examine"]
    other, drawn = bench.turns["examine-by-libraw"], bench.turns["examine-with-pictures"]
    yield Row("decode alone (LibRaw), a frame", f"{decode.usual_s * 1e3:.0f} ms")
    yield Row(
        "a worker's whole work on a lossless DNG / LibRaw's decode of it",
        f"{examine.usual_s * 1e3:.0f} ms", examine.over(decode), 0.75,
    )  # fmt: skip
    yield Row(
        "a worker's whole work where LibRaw decodes, as of other containers / LibRaw's decode",
        f"{other.usual_s * 1e3:.0f} ms", other.over(decode), 1.2,
    )  # fmt: skip
    yield Row(
        "the work with large pictures in the same pass / without",
        f"{drawn.usual_s * 1e3:.0f} ms", drawn.over(examine), 1.1,
    )  # fmt: skip
    digest = str(frame_with_digest(FRAMES, bench.megapixels))
    alone, with_digest = take_turns(("decode", "examine"), [digest] * 4)
    yield Row(
        "the work on a frame with a digest of its pixels to check / LibRaw's decode of it",
        f"{with_digest.usual_s * 1e3:.0f} ms", with_digest.over(alone), 1.25,
    )  # fmt: skip


def of_steps(bench: Bench) -> Iterator[Row]:
    steps = run_part("profile", *bench.files[:4])
    told = ", ".join(f"{name} {took:.0f}" for name, took in steps.items())
    yield Row("steps of a worker's work, processor ms a frame", told)
    behind = sum(took for name, took in steps.items() if name not in BEFORE_MEASURING)
    yield Row("all measures behind the decoder, processor ms a frame", "", behind, 110.0)
    least = run_part("floors", bench.files[1])
    told = ", ".join(f"{name} {took:.0f}" for name, took in least.items())
    yield Row(
        "the bare array calls of that one pass, in the cache, the least of 60",
        told,
        sum(least.values()),
    )


def of_memory(bench: Bench) -> Iterator[Row]:
    """The worst of some processes, each with the files in another order."""
    decode, files = bench.turns["decode"], bench.files
    largest = max(Path(file).stat().st_size for file in files)
    least_mb = decode.peak_mb + largest / 2**20
    names = ("examine", "examine-with-pictures")
    rounds = [take_turns(names, files[first:] + files[:first]) for first in range(MEMORY_ROUNDS)]
    of_each = [[turns.peak_mb for turns in own] for own in zip(*rounds, strict=True)]
    for what, peaks in zip(
        (
            "peak memory of a worker's work / of a process that only decodes "
            "and the file's own bytes",
            "peak memory with large pictures / the same",
        ),
        of_each,
        strict=True,
    ):
        told = f"{max(peaks):.0f} MB / {least_mb:.0f} MB; of {MEMORY_ROUNDS} least {min(peaks):.0f}"
        yield Row(what, told, max(peaks) / least_mb, 1.3)
    worst_mb = max(of_each[0])
    pool = run_part("pool")["pool_mb"]
    yield Row(
        "peak memory of a worker / the same, with what the pool of processes loads in both",
        f"{worst_mb + pool:.0f} MB / {least_mb + pool:.0f} MB",
        (worst_mb + pool) / (least_mb + pool),
    )  # fmt: skip


def of_store(bench: Bench) -> Iterator[Row]:
    kept = run_part("keep", *bench.files)
    yield Row("taking in and storing a frame, processor ms", "", kept["cpu_s"] * 1e3)
    yield Row("stored of a frame, MB", "", kept["stored_mb"], 0.3)
    most_kb = run_part("picture-bytes", *bench.files[:3])["most_bytes"] / 1e3
    yield Row("large pictures of a frame on the disk, kB", "", most_kb, 400.0)


def of_whole(bench: Bench) -> Iterator[Row]:
    return whole_audit.of_whole_audit(bench.files, ROUNDS)


def of_two_workers(bench: Bench) -> Iterator[Row]:
    """One worker and two, by the clock, in turns."""
    rounds = [
        [run_part("spread", workers, *bench.files)["wall_s"] for workers in ("1", "2")]
        for _ in range(ROUNDS)
    ]
    one, two = (median(times) for times in zip(*rounds, strict=True))
    yield Row(
        "frames an hour with two workers / with one",
        f"{3600 / two:.0f} / {3600 / one:.0f}",
        median(alone / both for alone, both in rounds), 1.9, at_least=True,
    )  # fmt: skip


def of_parent(bench: Bench) -> Iterator[Row]:
    """What the parent takes of each frame, however many workers there are."""
    told = run_part("asleep", bench.files[0])
    names = [name.removesuffix("_cpu_s") for name in told if name.endswith("_cpu_s")]
    waits = ", ".join(f"{name} {told[f'{name}_wall']:.2f}" for name in names)
    for name in names:
        who = "on a cluster of 4" if name == "cluster" else f"with {name}"
        yield Row(
            f"the parent's work on a frame, workers asleep {who}, processor ms", "",
            told[f"{name}_cpu_s"] * 1e3, 3.0,
        )  # fmt: skip
    yield Row("such a run by the clock / the sleeps alone", waits)


def of_known_card(bench: Bench) -> Iterator[Row]:
    """1,000 known frames: every small shoot, as often as it takes, each copy a file of its own."""
    told = run_part("known", str(FRAMES / "known"), *map(str, thousand(FRAMES)))
    frames, each, json_s = (int(told["frames"]), told["default_cpu_s"], told["json_cpu_s"])
    clock_ms = told["default_wall_s"] * 1e3
    yield Row(
        f"{frames} known frames with the default formats, processor ms a frame",
        f"{clock_ms:.2f} ms by the clock", each * 1e3, 10.0,
    )  # fmt: skip
    yield Row(
        f"{frames} known frames with --format json alone, processor ms a frame",
        f"{told['json_wall_s'] * 1e3:.2f} ms by the clock", json_s * 1e3, 3.0,
    )  # fmt: skip


def of_many(bench: Bench) -> Iterator[Row]:
    """Synthetic frames concluded and written: what each takes."""
    told = run_part("many", str(SYNTHETIC))
    each = {name: told[f"{name}_s"] / SYNTHETIC * 1e3 for name in ("json", "csv", "md", "html")}
    conclude_ms = told["conclude_s"] / SYNTHETIC * 1e3
    yield Row(
        f"{SYNTHETIC} synthetic frames concluded and written, processor ms a frame",
        f"conclude {conclude_ms:.1f}, " + ", ".join(f"{k} {v:.1f}" for k, v in each.items()),
        # five minutes for ARCHIVE frames on two cores
        conclude_ms + sum(each.values()), 30.0,
    )  # fmt: skip
    yield Row(
        "the parent's memory for them, kB a frame", "",
        told["html_mb"] / SYNTHETIC * 1e3, 100.0,
    )  # fmt: skip


def of_archive(bench: Bench) -> Iterator[Row]:
    """A year of frames in one call, by the clock: minutes, and only where it is asked for."""
    cores = usable_cores()
    told = run_part("many", str(ARCHIVE), str(cores))
    yield Row(
        f"{ARCHIVE} synthetic frames concluded and written, seconds",
        f"{told['all_s']:.0f} s of processor time in {cores} processes, to conclude "
        f"{told['conclude_wall_s']:.0f} s by the clock and {told['conclude_here_s']:.0f} s of the "
        "process that joins", told["all_wall_s"], 300.0,
    )  # fmt: skip
    yield Row("peak memory for them, of all processes, MB", "", told["all_mb"], 3000.0)


def of_start(bench: Bench) -> Iterator[Row]:
    def least_cost(*command: str) -> tuple[float, float]:
        return min(cost_of(*command) for _ in range(5))

    helped, clock_s = least_cost(sys.executable, "-m", "auditor", "--help")
    yield Row("auditor --help, processor seconds", f"{clock_s:.2f} s by the clock", helped, 0.3)
    imported, _ = least_cost(sys.executable, "-c", "import auditor.api")
    yield Row("import auditor.api, processor seconds", "", imported, 0.4)
    with tempfile.TemporaryDirectory() as folder:
        one = card_of([next(season(FRAMES)[0].rglob("*.DNG"))], Path(folder) / "card")
        plain = audit_command(one, folder)
        whole = tuple(word for word in plain if word not in {"--format", "json", "csv"})
        for what, command in (("default formats", whole), ("JSON and CSV", plain)):
            cpu_s, wall_s = least_cost(*command)
            yield Row(
                f"the audit of one small frame, {what}, seconds",
                f"{cpu_s:.2f} s of processor time", wall_s, 1.0,
            )  # fmt: skip


def of_page(bench: Bench) -> Iterator[Row]:
    try:
        told = measure_html(2000)
    except pytest.skip.Exception as reason:
        yield Row("the HTML report in a browser", f"not measured: {reason}")
        return
    yield Row(
        "loading an HTML report of 2,000 frames, seconds",
        f"{told.megabytes:.0f} MB; an empty page {told.empty_load_ms / 1e3:.2f} s",
        told.load_ms / 1e3, 1.0,
    )  # fmt: skip
    yield Row("sorting 2,000 frames, ms", "", told.sort_ms, 100.0)
    yield Row("filtering 2,000 frames, ms", "", told.filter_ms, 100.0)
    yield Row("a step of scrolling them (95 of 100 steps), ms", "", told.scroll_ms, 50.0)
    yield Row("nodes alive while scrolling", "", told.nodes, 6000.0)
    yield Row("bytes of the page a frame", "", told.bytes_a_frame, 10_000.0)


GROUPS: dict[str, Callable[[Bench], Iterator[Row]]] = {
    "worker": of_worker,
    "steps": of_steps,
    "memory": of_memory,
    "store": of_store,
    "whole": of_whole,
    "two": of_two_workers,
    "parent": of_parent,
    "known": of_known_card,
    "many": of_many,
    "start": of_start,
    "page": of_page,
    "archive": of_archive,
}

ON_DEMAND = frozenset({"archive"})
"""Groups that are run only where they are named."""
