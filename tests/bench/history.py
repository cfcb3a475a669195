"""Speed over the releases: each run of the benches kept, and a picture of them for the docs.

``python -m tests.bench.history`` draws the picture anew from what is kept.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import date
from pathlib import Path

from auditor import __version__
from auditor.files.atomic import write_text
from tests.bench import machine
from tests.bench.runs import ROOT
from tests.bench.table import Row

KEPT = ROOT / "reports" / "bench-history.json"
PICTURE = ROOT / "auditor" / "docs" / "speed.svg"


@dataclass(frozen=True)
class Run:
    """One run: the release, when and where it was measured, and every figure with its promise.

    ``load`` is how many processes wanted a core when it began.
    """

    version: str
    day: str
    machine: tuple[str, ...]
    load: float
    ratios: dict[str, float]
    promised: dict[str, float]

    @property
    def name(self) -> str:
        return f"{self.version}, {self.day}"


def of_rows(rows: Sequence[Row], load: float) -> Run:
    told = [row for row in rows if row.ratio is not None]
    return Run(
        __version__,
        date.today().isoformat(),
        tuple(machine.description()),
        round(load, 1),
        {row.what: round(row.ratio, 3) for row in told if row.ratio is not None},
        {row.what: row.limit for row in told if row.limit is not None},
    )


def kept(path: Path = KEPT) -> list[Run]:
    if not path.exists():
        return []
    runs = json.loads(path.read_text(encoding="utf-8"))
    return [Run(**{**run, "machine": tuple(run["machine"])}) for run in runs]


def keep(run: Run, path: Path = KEPT) -> list[Run]:
    """Add a run, in place of an earlier one of the same release and day; the oldest first."""
    runs = [one for one in kept(path) if one.name != run.name] + [run]
    write_text(path, json.dumps([asdict(one) for one in runs], indent=1) + "\n")
    return runs


def draw(runs: Sequence[Run], path: Path = PICTURE) -> None:
    """Draw each promised ratio over the runs that told it, with its promise."""
    from matplotlib import rc_context
    from matplotlib.figure import Figure

    names = list(runs[-1].promised)
    columns = 2
    figure = Figure(figsize=(10, 1.9 * -(-len(names) // columns)), layout="constrained")
    axes = figure.subplots(-(-len(names) // columns), columns, squeeze=False).ravel()
    for name, chart in zip(names, axes, strict=False):
        told = [(at, run.ratios[name]) for at, run in enumerate(runs) if name in run.ratios]
        chart.plot(*zip(*told, strict=True), marker="o", color="#1f5f8b")
        chart.axhline(runs[-1].promised[name], color="#a33", linestyle="--", linewidth=1)
        chart.set_title(_folded(name), fontsize=8, loc="left")
        chart.set_xticks(range(len(runs)), [run.name for run in runs], fontsize=7)
        chart.set_xlim(-0.5, len(runs) - 0.5)
        chart.set_ylim(0, 1.25 * max(runs[-1].promised[name], *(value for _, value in told)))
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
