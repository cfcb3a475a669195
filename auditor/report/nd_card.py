"""A card to print and carry: shutter times behind filters, as PNG or PDF, A6 upright."""

from __future__ import annotations

import io
import textwrap
from pathlib import Path
from typing import Any

from auditor.files.atomic import write_bytes
from auditor.light.filters import counting_text
from auditor.light.nd_plan import NdPlan, NdRow
from auditor.model.errors import WrongCall
from auditor.model.numbers import time_text
from auditor.model.text import visible
from auditor.report.chart_style import Figure, Rectangle, chart_style
from auditor.report.style import (
    CARD,
    INK,
    LINE,
    SOFT_INK,
    SOFTWARE,
    TRACK,
    Colour,
    hexed,
)
from auditor.words.nd_plan import DAY_S, span_text

WIDTH_MM, HEIGHT_MM = 105.0, 148.0
"""A6."""

DOTS_PER_INCH = 300
MARGIN_MM = 8.0
ROW_MM = 5.6
LINE_MM = 3.3
MM_PER_INCH = 25.4
WEDGE_GREYS = 13

FORMATS = {".png": "png", ".pdf": "pdf"}


def write_card(plan: NdPlan, path: Path) -> None:
    """Write the card; the ending of the file's name says whether as PNG or PDF.

    Raises
    ------
    WrongCall
        Another ending.
    CannotWrite
        The file cannot be written.
    """
    kind = FORMATS.get(path.suffix.lower())
    if kind is None:
        raise WrongCall(f"{path}: a card is a .png or a .pdf file, for example --card card.pdf.")
    write_bytes(path, build_card(plan, kind))


def build_card(plan: NdPlan, kind: str) -> bytes:
    """Draw the card.

    Parameters
    ----------
    plan : NdPlan
    kind : str
        "png" or "pdf".

    Returns
    -------
    bytes
        The same for the same plan.
    """
    with chart_style(pdf_fonttype=42, savefig_dpi=DOTS_PER_INCH):
        figure = Figure(figsize=(WIDTH_MM / MM_PER_INCH, HEIGHT_MM / MM_PER_INCH))
        _draw(_Sheet(figure), plan)
        stream = io.BytesIO()
        figure.savefig(stream, format=kind, metadata=_facts(kind))
    return stream.getvalue()


def _facts(kind: str) -> dict[str, Any]:
    if kind == "pdf":
        return {"Creator": SOFTWARE, "Producer": SOFTWARE, "CreationDate": None}
    return {"Software": SOFTWARE}


class _Sheet:
    """Millimetres from the top left."""

    def __init__(self, figure: Figure) -> None:
        self.axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
        self.axes.set_xlim(0.0, WIDTH_MM)
        self.axes.set_ylim(HEIGHT_MM, 0.0)
        self.axes.axis("off")

    def text(self, left: float, top: float, text: str, size: float, **look: Any) -> None:
        settings = {"color": hexed(INK), "va": "top", "ha": "left"} | look
        shown = "\n".join(visible(line) for line in text.split("\n"))
        self.axes.text(left, top, shown, fontsize=size, **settings)

    def fill(self, left: float, top: float, width: float, height: float, colour: str) -> None:
        self.axes.add_patch(Rectangle((left, top), width, height, facecolor=colour, linewidth=0.0))


def _draw(sheet: _Sheet, plan: NdPlan) -> None:
    sheet.fill(0.0, 0.0, WIDTH_MM, HEIGHT_MM, hexed(CARD))
    _draw_wedge(sheet)
    top = _draw_head(sheet, plan)
    for row in plan.rows:
        _draw_row(sheet, row, top)
        top += ROW_MM
    _draw_foot(sheet, plan, top + 2.2)


def _draw_wedge(sheet: _Sheet) -> None:
    """Draw a step wedge across the top, the mark of every sheet here."""
    width = WIDTH_MM / WEDGE_GREYS
    for step in range(WEDGE_GREYS):
        grey = 0.12 + 0.84 * step / (WEDGE_GREYS - 1)
        sheet.fill(step * width, 0.0, width + 0.1, 3.2, str(round(grey, 3)))


def _draw_head(sheet: _Sheet, plan: NdPlan) -> float:
    """Draw the filter and the column heads; return where the table starts."""
    soft = {"color": hexed(SOFT_INK)}
    strength = plan.strength
    sheet.text(MARGIN_MM, 7.0, f"{strength.stops:.1f} stops", 19.0, weight="bold")
    sheet.text(
        WIDTH_MM - MARGIN_MM, 7.4, f"density {strength.density:.2f}\n{_factor_text(plan)}", 8.0,
        ha="right", linespacing=1.4, **soft,
    )  # fmt: skip
    about = " + ".join(plan.parts) + _drift_text(plan)
    sheet.text(MARGIN_MM, 16.9, textwrap.shorten(about, 64, placeholder=" …"), 8.0, **soft)
    sheet.text(MARGIN_MM + 2.0, 22.4, "metered", 7.5, **soft)
    sheet.text(MARGIN_MM + 27.0, 22.4, "behind the filter", 7.5, **soft)
    sheet.text(WIDTH_MM - MARGIN_MM - 2.0, 22.4, "dial", 7.5, ha="right", **soft)
    sheet.fill(MARGIN_MM, 26.6, WIDTH_MM - 2 * MARGIN_MM, 0.25, hexed(LINE))
    return 27.2


def _factor_text(plan: NdPlan) -> str:
    factor = plan.strength.factor
    return f"×{factor:,.0f}".replace(",", " ") if factor >= 10 else f"×{factor:.1f}"


def _drift_text(plan: NdPlan) -> str:
    drift = plan.drift_stops_per_min
    if not drift:
        return ""
    return f", light {'falling' if drift < 0 else 'rising'} {abs(drift):g} stop/min"


def _draw_row(sheet: _Sheet, row: NdRow, top: float) -> None:
    middle = top + ROW_MM / 2.0
    if row.asked:
        sheet.fill(MARGIN_MM, top + 0.2, WIDTH_MM - 2 * MARGIN_MM, ROW_MM - 0.4, hexed(TRACK))
    look = {"va": "center", "weight": "bold" if row.asked else "normal"}
    sheet.text(MARGIN_MM + 2.0, middle, row.metered, 10.0, **look)
    sheet.text(MARGIN_MM + 27.0, middle, _behind_text(row), 10.0, **look)
    on_dial = row.setting.startswith("set ")
    sheet.text(
        WIDTH_MM - MARGIN_MM - 2.0, middle, _dial_text(row), 8.0,
        **(look | {"ha": "right", "color": hexed(INK if on_dial else SOFT_INK)}),
    )  # fmt: skip


def _dial_text(row: NdRow) -> str:
    """Say what to do at the camera; no shutter is held open for a time that cannot be."""
    if row.time_s is None or row.time_s > DAY_S:
        return "thinner filter"
    return row.setting.removeprefix("set ") if row.setting.startswith("set ") else "hold open"


def _behind_text(row: NdRow) -> str:
    if row.time_s is None:
        return "light falls too fast"
    if row.time_s > DAY_S:
        return "more than a day"
    return counting_text(row.time_s) if row.time_s > 10.0 else time_text(row.time_s)


def _draw_foot(sheet: _Sheet, plan: NdPlan, top: float) -> None:
    """Draw what was taken for granted, and at the bottom the cautions."""
    sheet.fill(MARGIN_MM, top, WIDTH_MM - 2 * MARGIN_MM, 0.25, hexed(LINE))
    dial = "" if plan.exact else "Dial times are taken as the powers of two they stand for. "
    _draw_lines(sheet, top + 1.8, textwrap.wrap(dial + _span_text(plan), 74), SOFT_INK)
    cautions = textwrap.wrap(" ".join(plan.cautions), 74)
    _draw_lines(sheet, HEIGHT_MM - 5.0 - LINE_MM * len(cautions), cautions, INK)


def _draw_lines(sheet: _Sheet, top: float, lines: list[str], colour: Colour) -> None:
    for number, line in enumerate(lines):
        sheet.text(MARGIN_MM, top + number * LINE_MM, line, 6.4, color=hexed(colour))


def _span_text(plan: NdPlan) -> str:
    span = span_text(plan.least_s, plan.most_s)
    if not span:
        return ""
    return f"By the scatter of its own pairs the filter asks for {span} in the marked row."
