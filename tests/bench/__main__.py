"""Measure speed and memory as ratios within one run; print a table, write reports/bench.md."""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from auditor.files.atomic import write_text
from tests.bench import history, machine
from tests.bench.frames import frame_with_digest, large_card, season, thousand
from tests.bench.html_report import measure_html
from tests.bench.runs import ROOT, Runs, Turns, cost_of, run_part, take_turns
from tests.bench.table import Row, page
from tests.bench.whole_audit import audit_command, card_of, of_whole_audit

REPORT = ROOT / "reports" / "bench.md"
FRAMES = ROOT / "reports" / "bench-frames"
BEFORE_MEASURING = ("reading and digest", "facts", "preview", "decode")


def of_one_core(runs: Runs, files: list[str], digest: str) -> Iterator[Row]:
    decode, examine, other, drawn, script = take_turns(
        ("decode", "examine", "examine-by-libraw", "examine-with-pictures", "script"), files
    )
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
    kept_kb = run_part("picture-bytes", *files[:3])["most_bytes"] / 1e3
    yield Row("large pictures of a frame on the disk, kB", "", kept_kb, 400.0)
    yield from of_steps(files)
    alone, with_digest = take_turns(("decode", "examine"), [digest] * 5)
    yield Row(
        "the same, a frame with a digest of its pixels to check",
        f"{with_digest.usual_s * 1e3:.0f} ms", with_digest.over(alone),
    )  # fmt: skip
    (kept,) = runs.median(("keep", *files[:2]))
    yield Row("taking in and storing a frame / decode alone",
        f"{kept['cpu_s'] * 1e3:.1f} ms ({kept['stored_mb']:.2f} MB stored)",
        kept["cpu_s"] / decode.usual_s,
    )  # fmt: skip
    largest = max(Path(file).stat().st_size for file in files)
    yield from of_memory(decode, examine, drawn, script, largest)


def of_steps(files: list[str]) -> Iterator[Row]:
    steps = run_part("profile", *files)
    told = ", ".join(f"{name} {took:.0f}" for name, took in steps.items())
    yield Row("its steps, processor ms a frame", told)
    behind = sum(took for name, took in steps.items() if name not in BEFORE_MEASURING)
    yield Row("all measures behind the decoder, ms a frame", f"{behind:.0f} ms", behind)


def of_memory(
    decode: Turns, examine: Turns, drawn: Turns, script: Turns, file_bytes: int
) -> Iterator[Row]:
    least_mb = decode.peak_mb + file_bytes / 2**20
    yield Row(
        "peak memory of a worker's work / of a process that only decodes and the file's own bytes",
        f"{examine.peak_mb:.0f} MB / {least_mb:.0f} MB", examine.peak_mb / least_mb, 1.3,
    )  # fmt: skip
    yield Row(
        "the same with large pictures",
        f"{drawn.peak_mb:.0f} MB / {least_mb:.0f} MB", drawn.peak_mb / least_mb, 1.3,
    )  # fmt: skip
    pool = run_part("pool")["pool_mb"]
    yield Row(
        "the same with what the pool of processes itself loads in each, in both",
        f"{examine.peak_mb + pool:.0f} MB / {least_mb + pool:.0f} MB",
        (examine.peak_mb + pool) / (least_mb + pool),
    )  # fmt: skip
    above = examine.peak_mb - examine.idle_mb
    yield Row("peak memory of a worker above an idle one, MB", f"{above:.0f} MB", above, 260.0)
    yield Row(
        "peak memory of the plain script / of a process that only decodes",
        f"{script.peak_mb:.0f} MB", script.peak_mb / decode.peak_mb,
    )  # fmt: skip


def of_two_workers(runs: Runs, files: list[str]) -> Iterator[Row]:
    one, two = runs.median(("spread", "1", *files), ("spread", "2", *files))
    yield Row(
        "frames an hour with two workers / with one",
        f"{3600 / two['wall_s']:.0f} / {3600 / one['wall_s']:.0f}",
        one["wall_s"] / two["wall_s"], 1.9, at_least=True,
    )  # fmt: skip


def of_parent(file: str) -> Iterator[Row]:
    """What the parent takes of each frame, however many workers there are."""
    told = run_part("asleep", file)
    names = [name.removesuffix("_cpu_s") for name in told if name.endswith("_cpu_s")]
    most = max(told[f"{name}_cpu_s"] for name in names) * 1e3
    each = ", ".join(f"{name} {told[f'{name}_cpu_s'] * 1e3:.2f}" for name in names)
    yield Row(
        "the parent's work on a frame, with 1, 2, 4, 8 workers and a cluster of 4 asleep, ms",
        each, most, 3.0,
    )  # fmt: skip
    waits = ", ".join(f"{name} {told[f'{name}_wall']:.2f}" for name in names)
    yield Row("the same by the clock / the sleeps alone", waits)


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


def of_known_card() -> Iterator[Row]:
    """1,000 known frames: every small shoot, as often as it takes, each copy a file of its own."""
    with tempfile.TemporaryDirectory() as folder:
        cards = [str(card) for card in thousand(FRAMES)]
        told = run_part("known", folder, *cards)
    frames, each = int(told["frames"]), told["default_cpu_s"]
    yield Row(
        f"{frames} known frames with the default formats, ms a frame",
        f"{each * 1e3:.2f} ms ({told['default_wall_s'] * 1e3:.2f} by the clock)", each * 1e3, 10.0,
    )  # fmt: skip
    yield Row(
        "the same / with --format json alone",
        f"{each * 1e3:.2f} / {told['json_cpu_s'] * 1e3:.2f} ms", each / told["json_cpu_s"], 2.0,
    )  # fmt: skip


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
    yield Row("loading an HTML report of 2,000 frames, seconds", "", told.load_ms / 1e3, 1.0)
    yield Row("sorting 2,000 frames, ms", "", told.sort_ms, 100.0)
    yield Row("filtering 2,000 frames, ms", "", told.filter_ms, 100.0)
    yield Row("a step of scrolling them (95 of 100 steps), ms", "", told.scroll_ms, 50.0)
    yield Row("nodes alive while scrolling", "", told.nodes, 6000.0)
    yield Row("bytes of the page a frame", "", told.bytes_a_frame, 10_000.0)


def of_start() -> Iterator[Row]:
    def least_cost(*command: str) -> tuple[float, float]:
        return min(cost_of(*command) for _ in range(5))

    _, helped = least_cost(sys.executable, "-m", "auditor", "--help")
    _, bare = least_cost(sys.executable, "-c", "pass")
    yield Row("auditor --help, seconds", f"{helped * 1e3:.0f} ms", helped, 0.3)
    yield Row("auditor --help / an empty Python", f"{bare * 1e3:.0f} ms", helped / bare)
    imported, _ = least_cost(sys.executable, "-c", "import auditor.api")
    yield Row("import auditor.api, processor seconds", "", imported, 0.4)
    with tempfile.TemporaryDirectory() as folder:
        one = card_of([next(season(FRAMES)[0].rglob("*.DNG"))], Path(folder) / "card")
        bare_audit = audit_command(one, folder)
        whole = tuple(word for word in bare_audit if word not in {"--format", "json", "csv"})
        for what, command in (("default formats", whole), ("JSON and CSV", bare_audit)):
            cpu_s, wall_s = least_cost(*command)
            yield Row(f"the audit of one small frame, {what}, seconds",
                f"{cpu_s:.2f} s of processor time", wall_s, 1.0,
            )  # fmt: skip


def all_rows(megapixels: float, frames: int, rounds: int) -> Iterator[Row]:
    runs = Runs(rounds)
    card = [str(path) for path in large_card(FRAMES, megapixels)]
    some = card[:: max(1, len(card) // frames)][:frames]
    digest = str(frame_with_digest(FRAMES, megapixels))
    yield from of_one_core(runs, some, digest)
    yield from of_whole_audit(card, rounds)
    yield from of_two_workers(runs, some)
    yield from of_parent(some[0])
    yield from of_second_audit()
    yield from of_known_card()
    yield from of_start()
    yield from of_browser()


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__)
    parser.add_argument("--megapixels", type=float, default=45.0)
    parser.add_argument("--frames", type=int, default=12)
    parser.add_argument("--rounds", type=int, default=3)
    given = parser.parse_args()
    load = machine.load()
    rows = []
    for row in all_rows(given.megapixels, given.frames, given.rounds):
        rows.append(row)
        print(" | ".join(row.cells()), flush=True)
    write_text(REPORT, page(rows, given.megapixels, load))
    history.draw(history.keep(history.of_rows(rows)))
    print(f"Written: {REPORT.relative_to(ROOT)}")
    return int(any(row.holds is False for row in rows))


if __name__ == "__main__":
    raise SystemExit(main())
