"""The command as a user runs it, start-up, judging and reports included."""

from __future__ import annotations

import os
import sys
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from statistics import fmean, median

from tests.bench.runs import cost_of, on_one_core, take_turns
from tests.bench.table import Row

SCRIPT_FRAMES = 12
"""So many tell how long the plain script takes a frame: it has no start-up to spread."""


def of_whole_audit(files: list[str], rounds: int) -> Iterator[Row]:
    """Audit a card between two runs of the decode alone, and the same with the plain script.

    Each ratio is taken within one round, for the speed of a machine drifts; the median is told.
    """
    with tempfile.TemporaryDirectory() as folder:
        card = card_of(files, Path(folder) / "card")
        told = [_round(files, card, folder) for _ in range(rounds)]
    yield from _of_one_core(told, len(files))
    yield from _by_the_clock(told)


@dataclass(frozen=True)
class _Round:
    """Seconds a frame: processor time on one core, and by the clock with all cores."""

    decode_s: float
    script_s: float
    audit_s: float
    one_core_wall_s: float
    script_wall_s: float
    audit_wall_s: float


def _round(files: list[str], card: Path, folder: str) -> _Round:
    some, count = files[:SCRIPT_FRAMES], len(files)
    (before,) = take_turns(["decode"], some)
    with on_one_core():
        audit_s, one_core_wall_s = cost_of(*audit_command(card, folder), "--workers", "1")
        script_s, _ = cost_of(*_script_command(some, folder))
    (after,) = take_turns(["decode"], some)
    decode_s = fmean([*before.cpu_s, *after.cpu_s])
    _, audit_wall_s = cost_of(*audit_command(card, folder))
    _, script_wall_s = cost_of(*_script_command(some, folder))
    return _Round(
        decode_s, script_s / len(some), audit_s / count, one_core_wall_s / count,
        script_wall_s / len(some), audit_wall_s / count,
    )  # fmt: skip


def _of_one_core(told: list[_Round], count: int) -> Iterator[Row]:
    audit_ms = median(one.audit_s for one in told) * 1e3
    wall_ms = median(one.one_core_wall_s for one in told) * 1e3
    yield Row(
        f"the whole audit of {count} frames on one core, start-up to report / decode alone",
        f"{audit_ms:.0f} ms a frame ({wall_ms:.0f} by the clock)",
        median(one.audit_s / one.decode_s for one in told), 1.3,
    )  # fmt: skip
    script_ms = median(one.script_s for one in told) * 1e3
    yield Row(
        "the plain script / the whole audit, both on one core",
        f"{script_ms:.0f} ms a frame", median(one.script_s / one.audit_s for one in told),
    )  # fmt: skip
    added = [(one.script_s - one.decode_s, one.audit_s - one.decode_s) for one in told]
    yield Row(
        "the same, what LibRaw's decode takes left out of both",
        f"{median(a for a, _ in added) * 1e3:.0f} / {median(b for _, b in added) * 1e3:.0f} ms",
        median(script / audit for script, audit in added),
    )  # fmt: skip


def _by_the_clock(told: list[_Round]) -> Iterator[Row]:
    script_ms = median(one.script_wall_s for one in told) * 1e3
    audit_ms = median(one.audit_wall_s for one in told) * 1e3
    yield Row(
        "the plain script / the whole audit by the clock, "
        f"as one runs them on this machine ({_cores()} cores)",
        f"{script_ms:.0f} / {audit_ms:.0f} ms a frame",
        median(one.script_wall_s / one.audit_wall_s for one in told), 3.0, at_least=True,
    )  # fmt: skip


def _cores() -> int:
    return len(os.sched_getaffinity(0))


def card_of(files: Sequence[str | Path], card: Path) -> Path:
    card.mkdir()
    for file in files:
        (card / Path(file).name).symlink_to(Path(file).resolve())
    return card


def audit_command(card: Path, folder: str) -> tuple[str, ...]:
    return (
        sys.executable, "-m", "auditor", "audit", str(card), "--out", f"{folder}/out",
        "--no-store", "--quiet", "--format", "json", "--format", "csv",
    )  # fmt: skip


def _script_command(files: list[str], folder: str) -> tuple[str, ...]:
    drawn = Path(folder) / "drawn"
    drawn.mkdir(exist_ok=True)
    return (sys.executable, "-m", "tests.bench.plain_script", str(drawn), *files)
