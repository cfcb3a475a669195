"""The table of the benches."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from tests.bench import machine


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
        verdict = {None: "", True: "yes", False: "not met"}[self.holds]
        return self.what, self.measured, ratio, promised, verdict


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
