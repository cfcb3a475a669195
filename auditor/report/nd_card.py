"""A card of shutter times behind one filter or one stack, A6 upright, as PNG or PDF."""

from __future__ import annotations

import textwrap
from pathlib import Path

from auditor.files.atomic import write_bytes
from auditor.light.filters import counting_text
from auditor.light.nd_kit import Kit
from auditor.light.nd_plan import NdPlan, NdRow
from auditor.light.nominal import DAY_S, nominal_name
from auditor.model.apertures import Series
from auditor.model.numbers import time_text
from auditor.report.card_sheet import (
    FORMATS,
    LINE_MM,
    LONG_MM,
    MARGIN_MM,
    SHORT_MM,
    CardSheet,
    check_card,
    draw_card,
)
from auditor.report.kit_card import draw_kit
from auditor.report.style import INK, LINE, SOFT_INK, TRACK, hexed
from auditor.words.nd_plan import span_text

WIDTH_MM, HEIGHT_MM = SHORT_MM, LONG_MM
ROW_MM = 5.6
MOST_ABOUT_LINES = 3
"""Names of files may hold anything; those of a stack of five filters fit."""


def write_card(told: NdPlan | Kit, path: Path, *, replace: bool = False) -> None:
    """Write the card; the ending of the file's name says whether as PNG or PDF.

    Raises
    ------
    WrongCall
        Another ending, or the file is there already and may not be replaced.
    CannotWrite
        The file cannot be written.
    """
    check_card(path, replace=replace)
    write_bytes(path, build_card(told, FORMATS[path.suffix.lower()]))


def build_card(told: NdPlan | Kit, kind: str) -> bytes:
    """Draw the card of a plan, or of a whole kit on its side.

    Parameters
    ----------
    told : NdPlan or Kit
    kind : str
        "png" or "pdf".

    Returns
    -------
    bytes
        The same for the same plan.
    """
    if isinstance(told, Kit):
        return draw_card(lambda sheet: draw_kit(sheet, told), kind, wide=True)
    return draw_card(lambda sheet: _draw(sheet, told), kind)


def _draw(sheet: CardSheet, plan: NdPlan) -> None:
    top = _draw_head(sheet, plan)
    for row in plan.rows:
        _draw_row(sheet, row, plan.series, top)
        top += ROW_MM
    _draw_foot(sheet, plan, top + 2.2)


def _draw_head(sheet: CardSheet, plan: NdPlan) -> float:
    """Draw the filter and the column heads; return where the table starts."""
    soft = {"color": hexed(SOFT_INK)}
    strength = plan.strength
    sheet.text(MARGIN_MM, 7.0, f"{strength.stops:.1f} stops", 19.0, weight="bold")
    sheet.text(
        WIDTH_MM - MARGIN_MM, 7.4, f"density {strength.density:.2f}\n{_factor_text(plan)}", 8.0,
        ha="right", linespacing=1.4, **soft,
    )  # fmt: skip
    about = " + ".join(plan.parts) + _drift_text(plan)
    lines = textwrap.wrap(about, 64, max_lines=MOST_ABOUT_LINES, placeholder=" …")
    for number, line in enumerate(lines):
        sheet.text(MARGIN_MM, 16.9 + number * LINE_MM, line, 8.0, **soft)
    top = 22.4 + LINE_MM * max(0, len(lines) - 1)
    sheet.text(MARGIN_MM + 2.0, top, "metered", 7.5, **soft)
    sheet.text(MARGIN_MM + 27.0, top, "behind the filter", 7.5, **soft)
    sheet.text(WIDTH_MM - MARGIN_MM - 2.0, top, "dial", 7.5, ha="right", **soft)
    sheet.fill(MARGIN_MM, top + 4.2, WIDTH_MM - 2 * MARGIN_MM, 0.25, hexed(LINE))
    return top + 4.8


def _factor_text(plan: NdPlan) -> str:
    factor = plan.strength.factor
    return f"×{factor:,.0f}".replace(",", " ") if factor >= 10 else f"×{factor:.1f}"


def _drift_text(plan: NdPlan) -> str:
    drift = plan.drift_stops_per_min
    if not drift:
        return ""
    return f", light {'falling' if drift < 0 else 'rising'} {abs(drift):g} stop/min"


def _draw_row(sheet: CardSheet, row: NdRow, series: Series, top: float) -> None:
    middle = top + ROW_MM / 2.0
    if row.asked:
        sheet.fill(MARGIN_MM, top + 0.2, WIDTH_MM - 2 * MARGIN_MM, ROW_MM - 0.4, hexed(TRACK))
    look = {"va": "center", "weight": "bold" if row.asked else "normal"}
    sheet.text(MARGIN_MM + 2.0, middle, row.metered, 10.0, **look)
    sheet.text(MARGIN_MM + 27.0, middle, _behind_text(row), 10.0, **look)
    sheet.text(
        WIDTH_MM - MARGIN_MM - 2.0, middle, _dial_text(row, series), 8.0,
        **(look | {"ha": "right", "color": hexed(INK if row.dialled else SOFT_INK)}),
    )  # fmt: skip


def _dial_text(row: NdRow, series: Series) -> str:
    """Say what to do at the camera."""
    if row.time_s is None or row.time_s > DAY_S:
        return "thinner filter"
    return nominal_name(row.time_s, series) if row.dialled else "Bulb"


def _behind_text(row: NdRow) -> str:
    if row.time_s is None:
        return "light falls too fast"
    if row.time_s > DAY_S:
        return "more than a day"
    return counting_text(row.time_s) if row.time_s > 10.0 else time_text(row.time_s)


def _draw_foot(sheet: CardSheet, plan: NdPlan, top: float) -> None:
    """Draw what was taken for granted, and at the bottom the cautions."""
    sheet.fill(MARGIN_MM, top, WIDTH_MM - 2 * MARGIN_MM, 0.25, hexed(LINE))
    dial = "" if plan.exact else "Dial times are taken as the powers of two they stand for. "
    sheet.lines(top + 1.8, textwrap.wrap(dial + _span_text(plan), 74), SOFT_INK)
    cautions = textwrap.wrap(" ".join(plan.cautions), 74)
    sheet.lines(HEIGHT_MM - 5.0 - LINE_MM * len(cautions), cautions, INK)


def _span_text(plan: NdPlan) -> str:
    span = span_text(plan.least_s, plan.most_s)
    if not span:
        return ""
    return f"By the scatter of its own pairs the filter asks for {span} in the marked row."
