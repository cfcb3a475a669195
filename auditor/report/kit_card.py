"""A card of all filters on hand, A6 on its side: metered times against filters and stacks."""

from __future__ import annotations

import textwrap

from auditor.light.nd_kit import Kit
from auditor.light.nominal import LONGEST_DIAL_S
from auditor.report.card_sheet import LINE_MM, MARGIN_MM, CardSheet
from auditor.report.style import INK, LINE, SOFT_INK, TRACK, hexed
from auditor.words.cautions import EYES_IN_SHORT, GROUND_IN_SHORT
from auditor.words.nd_plan import long_notes, short_time, strength_text

METERED_MM = 17.0
"""Width of the first column."""

COLUMN_MM = 17.5
"""Most that a filter's column takes."""

ROW_MM = 4.25
NAMES_A_LINE = 2
LEGEND_CHARACTERS = 56
MOST_LONG_NAMES = 3


def draw_kit(sheet: CardSheet, kit: Kit) -> None:
    """Draw what each filter is, the table, and what to mind; shaded times are for Bulb."""
    top = _draw_legend(sheet, kit)
    room_mm = sheet.width_mm - 2 * MARGIN_MM - METERED_MM
    step_mm = min(COLUMN_MM, room_mm / len(kit.columns))
    soft = {"color": hexed(SOFT_INK), "ha": "right"}
    sheet.text(MARGIN_MM, top + 3.4, "metered", 7.0, color=hexed(SOFT_INK))
    for number, column in enumerate(kit.columns, 1):
        right = MARGIN_MM + METERED_MM + number * step_mm - 1.0
        sheet.text(right, top, column.mark, 8.5, weight="bold", ha="right")
        sheet.text(right, top + 3.4, f"{column.stops:.1f} stops", 7.0, **soft)
    top += 7.0
    sheet.fill(MARGIN_MM, top, sheet.width_mm - 2 * MARGIN_MM, 0.25, hexed(LINE))
    for row in kit.rows:
        middle = top + ROW_MM / 2.0 + 0.4
        sheet.text(MARGIN_MM, middle, row.metered, 8.0, va="center", weight="bold")
        for number, time_s in enumerate(row.times_s, 1):
            right = MARGIN_MM + METERED_MM + number * step_mm
            if time_s is not None and time_s > LONGEST_DIAL_S:
                sheet.fill(
                    right - step_mm + 0.6, top + 0.6, step_mm - 0.8, ROW_MM - 0.4, hexed(TRACK)
                )
            sheet.text(right - 1.0, middle, short_time(time_s), 8.0, va="center", ha="right")
        top += ROW_MM
    _draw_foot(sheet, kit, top + 1.6)


def _draw_legend(sheet: CardSheet, kit: Kit) -> float:
    """Say what each mark stands for, two a line; return where the table may begin.

    A name too long for half a line has one for itself. Only where such names would crowd out the
    table are they cut.
    """
    named = [
        f"{column.mark}  {column.name}: {strength_text(column)}"
        for column in kit.columns
        if column.name
    ]
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


def _draw_foot(sheet: CardSheet, kit: Kit, top: float) -> None:
    notes = ["Shaded: Bulb, in minutes and seconds.", *long_notes(LONGEST_DIAL_S + 1.0)]
    if kit.drift_stops_per_min:
        way = "falling" if kit.drift_stops_per_min < 0 else "rising"
        notes.insert(0, f"In light {way} by {abs(kit.drift_stops_per_min):g} stop a minute.")
    lines = textwrap.wrap(" ".join(notes), 112)
    sheet.lines(top, lines, SOFT_INK)
    cautions = textwrap.wrap(f"{EYES_IN_SHORT} {GROUND_IN_SHORT}", 112)
    sheet.lines(top + LINE_MM * len(lines) + 0.6, cautions, INK)
