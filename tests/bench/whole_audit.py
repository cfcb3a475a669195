"""The command as a user runs it, start-up, judging and reports included."""

from __future__ import annotations

import os
import sys
import tempfile
from collections.abc import Iterator, Sequence
from pathlib import Path
from statistics import fmean, median

from tests.bench.runs import cost_of, on_one_core, take_turns
from tests.bench.table import Row


def of_whole_audit(files: list[str], rounds: int) -> Iterator[Row]:
    """Audit a card between two runs of the decode alone, and once beside the plain script.

    Each ratio is taken within one round, for the speed of a machine drifts; the median is told.
    """
    with tempfile.TemporaryDirectory() as folder:
        card = card_of(files, Path(folder) / "card")
        told = [_round(files, card, folder) for _ in range(rounds)]
        _, audit_wall_s = cost_of(*audit_command(card, folder))
        _, script_wall_s = cost_of(*_script_command(files, folder))
    yield Row(
        f"the whole command over {len(files)} frames on one core, start-up included / "
        "LibRaw's decode of them",
        f"{median(audit_s for audit_s, _ in told) / len(files) * 1e3:.0f} ms a frame",
        median(audit_s / decode_s for audit_s, decode_s in told), 0.9,
    )  # fmt: skip
    cores = len(os.sched_getaffinity(0))
    yield Row(
        "the plain script / the whole command by the clock, "
        f"as one runs them on this machine ({cores} cores)",
        f"{script_wall_s / len(files) * 1e3:.0f} / {audit_wall_s / len(files) * 1e3:.0f} ms a "
        "frame",
        script_wall_s / audit_wall_s, 3.0, at_least=True,
    )  # fmt: skip


def _round(files: list[str], card: Path, folder: str) -> tuple[float, float]:
    """Return processor seconds of the whole command, and of the decode alone."""
    (before,) = take_turns(["decode"], files)
    with on_one_core():
        audit_s, _ = cost_of(*audit_command(card, folder), "--workers", "1")
    (after,) = take_turns(["decode"], files)
    return audit_s, fmean([*before.cpu_s, *after.cpu_s]) * len(files)


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
