"""Speed over the releases: each run of the benches kept, and a picture of them for the docs.

``python -m tests.bench.history`` draws the picture anew from what is kept.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

import msgspec

from auditor import __version__
from auditor.files.atomic import write_bytes
from tests.bench.machine import description
from tests.bench.runs import ROOT
from tests.bench.table import Row

KEPT = ROOT / "reports" / "bench-history.json"
PICTURE = ROOT / "auditor" / "docs" / "speed.svg"


@dataclass(frozen=True)
class Run:
    """The rows of one release on one day and machine."""

    version: str
    day: str
    machine: tuple[str, ...]
    rows: tuple[Row, ...]

    @property
    def name(self) -> str:
        return f"{self.version}, {self.day}"

    def figure(self, what: str) -> float | None:
        """Return the figure of a row; None where it was not measured."""
        return next((row.figure for row in self.rows if row.what == what), None)


def kept(path: Path = KEPT) -> list[Run]:
    """Return all runs, the oldest first."""
    return msgspec.json.decode(path.read_bytes(), type=list[Run]) if path.exists() else []


def keep(rows: Sequence[Row], path: Path = KEPT, machine: Sequence[str] | None = None) -> list[Run]:
    """Add rows to the run of this release, day and machine: each in place of an earlier one."""
    where = tuple(machine or description())
    run = Run(__version__, date.today().isoformat(), where, tuple(rows))
    runs = kept(path)
    for same in [one for one in runs if (one.name, one.machine) == (run.name, where)]:
        runs.remove(same)
        merged = {row.what: row for row in (*same.rows, *rows)}
        run = replace(run, rows=tuple(merged.values()))
    runs.append(run)
    write_bytes(path, msgspec.json.format(msgspec.json.encode(runs), indent=1) + b"\n")
    return runs


def draw(runs: Sequence[Run], path: Path = PICTURE) -> None:
    """Draw each promised figure over the runs that told it, with its promise."""
    from matplotlib import rc_context
    from matplotlib.figure import Figure

    promised = {row.what: row.limit for row in runs[-1].rows if row.limit is not None}
    names = list(promised)
    columns = 2
    figure = Figure(figsize=(10, 1.9 * -(-len(names) // columns)), layout="constrained")
    axes = figure.subplots(-(-len(names) // columns), columns, squeeze=False).ravel()
    for name, chart in zip(names, axes, strict=False):
        figures = [(at, run.figure(name)) for at, run in enumerate(runs)]
        told = [(at, figure) for at, figure in figures if figure is not None]
        chart.plot(*zip(*told, strict=True), marker="o", color="#1f5f8b")
        chart.axhline(promised[name], color="#a33", linestyle="--", linewidth=1)
        chart.set_title(_folded(name), fontsize=8, loc="left")
        chart.set_xticks(range(len(runs)), [run.name for run in runs], fontsize=7)
        chart.set_xlim(-0.5, len(runs) - 0.5)
        chart.set_ylim(0, 1.25 * max(promised[name], *(value for _, value in told)))
        chart.tick_params(axis="y", labelsize=7)
    for chart in axes[len(names) :]:
        chart.remove()
    with rc_context({"svg.hashsalt": "speed", "svg.fonttype": "none"}):
        figure.savefig(path, format="svg", metadata={"Date": None})


def _folded(text: str, width: int = 62) -> str:
    if len(text) <= width:
        return text
    cut = text.rfind(" ", 0, width)
    return f"{text[:cut]}\n{text[cut + 1 :]}"


if __name__ == "__main__":
    draw(kept())
