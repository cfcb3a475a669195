"""The rows of the benches, and the table of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Row:
    """One line of the table.

    ``limit`` is what was promised, None where nothing was; ``load`` is how many processes wanted a
    core when the row was measured.
    """

    what: str
    measured: str
    figure: float | None = None
    limit: float | None = None
    at_least: bool = False
    load: float | None = None

    @property
    def holds(self) -> bool | None:
        if self.figure is None or self.limit is None:
            return None
        return self.figure >= self.limit if self.at_least else self.figure <= self.limit

    def cells(self) -> tuple[str, ...]:
        figure = "" if self.figure is None else _short(self.figure)
        promised = "" if self.limit is None else f"{'≥' if self.at_least else '≤'} {self.limit:g}"
        verdict = {None: "", True: "yes", False: "not met"}[self.holds]
        load = "" if self.load is None else f"{self.load:.0f}"
        return self.what, self.measured, figure, promised, verdict, load


def _short(figure: float) -> str:
    return f"{figure:,.0f}" if figure >= 100.0 else f"{figure:.3g}"


def page(rows: Sequence[Row], day: str, machine: Sequence[str]) -> str:
    """The table as Markdown, with the machine it was measured on."""
    lines = [
        "# Benches",
        "",
        f"Made by `make bench` on {day}. Frames of 45 megapixels, lossless JPEG in tiles, unless "
        "said otherwise. A ratio is of two figures of one run, taken in turns; times are processor "
        "time on one core unless the row says by the clock, or seconds alone. Load is how many "
        "processes wanted a core when the row was begun: over 1, figures by the clock are worse "
        "than on an idle machine, and processor times are longer too.",
        "",
        *machine,
        "",
        "| what | measured | figure | promised | met | load |",
        "| --- | --- | --- | --- | --- | --- |",
        *(f"| {' | '.join(row.cells())} |" for row in rows),
        "",
    ]
    return "\n".join(lines)
