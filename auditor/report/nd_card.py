"""Cards of shutter times behind filters, A6, as PNG or PDF: of one filter or stack, or of a kit."""

from __future__ import annotations

import textwrap
from pathlib import Path

from auditor.files.atomic import write_bytes
from auditor.light.exposure import DAY_S
from auditor.light.filters import counting_text
from auditor.light.nd_kit import Kit
from auditor.light.nd_plan import NdPlan, NdRow
from auditor.light.nominal import LONGEST_DIAL_S, nominal_name
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
    paper,
)
from auditor.report.style import INK, LINE, SOFT_INK, TRACK, hexed
from auditor.words.cautions import EYES_IN_SHORT, GROUND_IN_SHORT
from auditor.words.nd_plan import card_text, kit_card_lines, short_time, strength_text

INNER_MM = SHORT_MM - 2 * MARGIN_MM
ROW_MM = 5.6
MOST_ABOUT_LINES = 3
"""Names of files may hold anything; those of a stack of five filters fit."""

METERED_MM = 17.0
"""Width of a kit's first column."""

COLUMN_MM = 17.5
"""Most that a filter's column takes on the card of a kit."""

KIT_ROW_MM = 4.25
NAMES_A_LINE = 2
LEGEND_CHARACTERS = 56
MOST_LONG_NAMES = 3


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
        with paper(LONG_MM, SHORT_MM) as sheet:
            _draw_kit(sheet, told)
            return sheet.saved(kind)
    with paper(SHORT_MM, LONG_MM) as sheet:
        _draw_plan(sheet, told)
        return sheet.saved(kind)


def _draw_plan(sheet: CardSheet, plan: NdPlan) -> None:
    """Draw the filter, its table, what was taken for granted, and at the bottom the cautions."""
    soft, right = {"color": hexed(SOFT_INK)}, SHORT_MM - MARGIN_MM
    stops, factor = plan.strength.stops, plan.strength.factor
    times = f"×{factor:,.0f}".replace(",", " ") if factor >= 10 else f"×{factor:.1f}"
    density = f"density {plan.strength.density:.2f}\n{times}"
    sheet.text(MARGIN_MM, 7.0, f"{stops:.1f} stops", 19.0, weight="bold")
    sheet.text(right, 7.4, density, 8.0, ha="right", linespacing=1.4, **soft)
    about, drift = " + ".join(plan.parts), plan.drift_stops_per_min
    if drift:
        about += f", light {'falling' if drift < 0 else 'rising'} {abs(drift):g} stop/min"
    lines = textwrap.wrap(about, 64, max_lines=MOST_ABOUT_LINES, placeholder=" …")
    for number, line in enumerate(lines):
        sheet.text(MARGIN_MM, 16.9 + number * LINE_MM, line, 8.0, **soft)
    top = 22.4 + LINE_MM * max(0, len(lines) - 1)
    sheet.text(MARGIN_MM + 2.0, top, "metered", 7.5, **soft)
    sheet.text(MARGIN_MM + 27.0, top, "behind the filter", 7.5, **soft)
    sheet.text(right - 2.0, top, "dial", 7.5, ha="right", **soft)
    sheet.fill(MARGIN_MM, top + 4.2, INNER_MM, 0.25, hexed(LINE))
    top += 4.8
    for row in plan.rows:
        _draw_row(sheet, row, plan.series, top)
        top += ROW_MM
    sheet.fill(MARGIN_MM, top + 2.2, INNER_MM, 0.25, hexed(LINE))
    sheet.lines(top + 4.0, textwrap.wrap(card_text(plan), 74), SOFT_INK)
    cautions = textwrap.wrap(" ".join(plan.cautions), 74)
    sheet.lines(LONG_MM - 5.0 - LINE_MM * len(cautions), cautions, INK)


def _draw_row(sheet: CardSheet, row: NdRow, series: Series, top: float) -> None:
    """Draw one metered time, the time behind the filter, and what to do at the camera."""
    if row.time_s is None:
        behind, dial = "light falls too fast", "thinner filter"
    elif row.time_s > DAY_S:
        behind, dial = "more than a day", "thinner filter"
    else:
        behind = counting_text(row.time_s) if row.time_s > 10.0 else time_text(row.time_s)
        dial = nominal_name(row.time_s, series) if row.dialled else "Bulb"
    middle = top + ROW_MM / 2.0
    if row.asked:
        sheet.fill(MARGIN_MM, top + 0.2, INNER_MM, ROW_MM - 0.4, hexed(TRACK))
    look = {"va": "center", "weight": "bold" if row.asked else "normal"}
    sheet.text(MARGIN_MM + 2.0, middle, row.metered, 10.0, **look)
    sheet.text(MARGIN_MM + 27.0, middle, behind, 10.0, **look)
    look |= {"ha": "right", "color": hexed(INK if row.dialled else SOFT_INK)}
    sheet.text(SHORT_MM - MARGIN_MM - 2.0, middle, dial, 8.0, **look)


def _draw_kit(sheet: CardSheet, kit: Kit) -> None:
    """Draw what each filter is, the table, and what to mind; shaded times are for Bulb."""
    top = _draw_legend(sheet, kit)
    inner_mm = sheet.width_mm - 2 * MARGIN_MM
    step_mm = min(COLUMN_MM, (inner_mm - METERED_MM) / len(kit.columns))
    soft = {"color": hexed(SOFT_INK), "ha": "right"}
    sheet.text(MARGIN_MM, top + 3.4, "metered", 7.0, color=hexed(SOFT_INK))
    for number, column in enumerate(kit.columns, 1):
        right = MARGIN_MM + METERED_MM + number * step_mm - 1.0
        sheet.text(right, top, column.mark, 8.5, weight="bold", ha="right")
        sheet.text(right, top + 3.4, f"{column.stops:.1f} stops", 7.0, **soft)
    top += 7.0
    sheet.fill(MARGIN_MM, top, inner_mm, 0.25, hexed(LINE))
    for row in kit.rows:
        middle, tall = top + KIT_ROW_MM / 2.0 + 0.4, KIT_ROW_MM - 0.4
        sheet.text(MARGIN_MM, middle, row.metered, 8.0, va="center", weight="bold")
        for number, time_s in enumerate(row.times_s, 1):
            right = MARGIN_MM + METERED_MM + number * step_mm
            if time_s is not None and time_s > LONGEST_DIAL_S:
                sheet.fill(right - step_mm + 0.6, top + 0.6, step_mm - 0.8, tall, hexed(TRACK))
            sheet.text(right - 1.0, middle, short_time(time_s), 8.0, va="center", ha="right")
        top += KIT_ROW_MM
    lines = textwrap.wrap(" ".join(kit_card_lines(kit)), 112)
    sheet.lines(top + 1.6, lines, SOFT_INK)
    cautions = textwrap.wrap(f"{EYES_IN_SHORT} {GROUND_IN_SHORT}", 112)
    sheet.lines(top + 2.2 + LINE_MM * len(lines), cautions, INK)


def _draw_legend(sheet: CardSheet, kit: Kit) -> float:
    """Say what each mark stands for, two a line; return where the table may begin.

    A name too long for half a line has one for itself. Only where such names would crowd out the
    table are they cut.
    """
    named = [f"{one.mark}  {one.name}: {strength_text(one)}" for one in kit.columns if one.name]
    long = [text for text in named if len(text) > LEGEND_CHARACTERS]
    if len(long) > MOST_LONG_NAMES:
        named, long = [_cut(text, LEGEND_CHARACTERS) for text in named], []
    half_mm = (sheet.width_mm - 2 * MARGIN_MM) / NAMES_A_LINE
    line, side = 0, 0
    for text in named:
        if side and text in long:
            line, side = line + 1, 0
        left = MARGIN_MM + side * half_mm
        sheet.text(left, 5.6 + line * LINE_MM, _cut(text, NAMES_A_LINE * LEGEND_CHARACTERS), 6.8)
        side = (side + 1) % NAMES_A_LINE if text not in long else 0
        line += side == 0
    return 7.4 + LINE_MM * max(1, line + (side > 0))


def _cut(text: str, characters: int) -> str:
    return textwrap.shorten(text, characters, placeholder=" …")
