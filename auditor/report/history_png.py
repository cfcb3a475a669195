"""The history as one picture: habits, placement, filters, sensors."""

from __future__ import annotations

from typing import Any

import numpy as np

from auditor.model.arrays import U8
from auditor.model.history import Habit, History
from auditor.report import words
from auditor.report.chart_style import Axes, Figure, FigureCanvasAgg, chart_style
from auditor.report.history_charts import (
    BAR_NOTE,
    MOST_LINES,
    axis_stops,
    reach_stops,
    spare_text,
    spread_out,
)
from auditor.report.history_page import FilterMark, HistoryPage, SnrLine, SpareBar, history_page
from auditor.report.png_canvas import Canvas, line_height
from auditor.report.png_marks import StopsAxis, draw_wedge
from auditor.report.style import (
    INK,
    LINE,
    PLANE_COLOURS,
    SOFT_INK,
    TONE,
    TRACK,
    hexed,
)

WIDTH = 1200
MARGIN = 48
INNER = WIDTH - 2 * MARGIN
LABEL_WIDTH, TEXT_WIDTH = 260, 230
BAR_LEFT, BAR_RIGHT = MARGIN + LABEL_WIDTH + 20, WIDTH - MARGIN - TEXT_WIDTH - 20
ROW = 30
MOST_ROWS = 24
MOST_HEIGHT = 5000
CHART_WIDTH, CHART_HEIGHT = 760, 430
TABLE_ONLY = {"filters": " Use the name", "previews": " False alarms"}
"""Where the words on a table turn to what the picture does not show."""

FILTER_SIDES = ("thinner", "as marked", "denser")
PREVIEW_SIDES = ("after it", "with the sensor", "before it")
DASHES = ("-", (0, (7, 3)), (0, (2, 2)), (0, (9, 3, 2, 3)))


def build_history_png(history: History) -> bytes:
    """Draw the history as one PNG, 1200 pixels wide."""
    page = history_page(history)
    canvas = Canvas(WIDTH, MOST_HEIGHT)
    top = _draw_head(canvas, page)
    for number, habit in enumerate(page.habits, 1):
        top = _draw_habit(canvas, number, habit, top)
    if page.bars:
        top = _draw_bars(canvas, page.bars[:MOST_ROWS], _headed(canvas, top, page, "placement"))
        top = _draw_rest(canvas, len(page.bars) - MOST_ROWS, top)
    for key, marks, sides in (
        ("previews", page.previews, PREVIEW_SIDES),
        ("filters", page.filters, FILTER_SIDES),
    ):
        if marks:
            below = _headed(canvas, top, page, key)
            top = _draw_filters(canvas, marks[:MOST_ROWS], below, sides)
            top = _draw_rest(canvas, len(marks) - MOST_ROWS, top)
    if page.lines:
        top = _draw_curves(canvas, page.lines[:MOST_LINES], _headed(canvas, top, page, "sensor"))
        top = _draw_rest(canvas, len(page.lines) - MOST_LINES, top)
    return canvas.to_png(_draw_foot(canvas, page, top))


def _draw_head(canvas: Canvas, page: HistoryPage) -> int:
    draw_wedge(canvas, StopsAxis(0, WIDTH, 13.0), 0, 12)
    canvas.text(MARGIN, 44, INNER, page.title, size=34, bold=True)
    top = 104
    for sentence in (*page.summary, page.no_habits):
        top = canvas.paragraph(MARGIN, top, INNER, sentence, size=17, colour=SOFT_INK)
    return top + 26


def _draw_habit(canvas: Canvas, number: int, habit: Habit, top: int) -> int:
    canvas.text(MARGIN, top, 40, str(number), size=30, colour=SOFT_INK)
    left, width = MARGIN + 52, INNER - 52
    below = canvas.paragraph(left, top, width, habit.text, size=20)
    below = canvas.paragraph(left, below, width, habit.evidence, size=14, colour=SOFT_INK)
    if habit.caution:
        mark = below + 6
        below = canvas.paragraph(left + 14, mark, width - 14, habit.caution, size=13)
        canvas.fill(left, mark, left + 3, below, INK)
    return below + 22


def _headed(canvas: Canvas, top: int, page: HistoryPage, key: str) -> int:
    """Draw a part's title and what it is about; return where its drawing starts."""
    table = next(table for table in page.tables if table.key == key)
    canvas.rule(MARGIN, WIDTH - MARGIN, top + 6, LINE)
    canvas.text(MARGIN, top + 28, INNER, table.title, size=24, bold=True)
    about = table.about.partition(TABLE_ONLY[key])[0] if key in TABLE_ONLY else table.about
    return canvas.paragraph(MARGIN, top + 70, INNER, about, size=14, colour=SOFT_INK) + 16


def _draw_rest(canvas: Canvas, more: int, top: int) -> int:
    """Say how many rows had no room; return the y below."""
    told = f"{more} more stand in history.html." if more > 0 else ""
    return canvas.paragraph(MARGIN, top, INNER, told, size=14, colour=SOFT_INK)


def _draw_bars(canvas: Canvas, bars: tuple[SpareBar, ...], top: int) -> int:
    axis = StopsAxis(BAR_LEFT, BAR_RIGHT, float(axis_stops(bars)))
    for bar in bars:
        _draw_label(canvas, bar.label, top)
        canvas.fill(axis.left, top + 4, axis.right, top + 20, TRACK)
        canvas.fill(
            axis.x(bar.high), top + 7, max(axis.x(bar.low), axis.x(bar.high) + 2), top + 17, TONE
        )
        canvas.fill(axis.x(bar.median) - 1, top + 2, axis.x(bar.median) + 2, top + 22, INK)
        canvas.fill(axis.right, top + 2, axis.right + 1, top + 22, SOFT_INK)
        canvas.text(BAR_RIGHT + 20, top + 2, TEXT_WIDTH, spare_text(bar), size=14, colour=SOFT_INK)
        top += ROW
    for stop in range(int(axis.depth) + 1):
        canvas.text(
            round(axis.x(stop)) - 20, top, 40, str(stop), size=12, colour=SOFT_INK, align="middle"
        )
    canvas.text(BAR_RIGHT + 24, top, TEXT_WIDTH, "stops under saturation", size=12, colour=SOFT_INK)
    return canvas.paragraph(MARGIN, top + 26, INNER, BAR_NOTE, size=13, colour=SOFT_INK) + 14


def _draw_label(canvas: Canvas, label: str, top: int) -> None:
    canvas.text(MARGIN, top + 1, LABEL_WIDTH, label, size=15)


def _draw_filters(
    canvas: Canvas, filters: tuple[FilterMark, ...], top: int, sides: tuple[str, str, str]
) -> int:
    """Draw where each channel lies about the middle; ``sides`` names left, middle and right."""
    reach = reach_stops(filters)
    for mark in filters:
        _draw_filter(canvas, mark, reach, top)
        top += ROW + 16
    for share, text in (
        (-1.0, f"{words.stops(reach)} {sides[0]}"),
        (0.0, sides[1]),
        (1.0, f"{words.stops(reach)} {sides[2]}"),
    ):
        canvas.text(
            round(_filter_x(share)) - 60, top, 120, text, size=12, colour=SOFT_INK, align="middle"
        )
    return top + 34


def _filter_x(share: float) -> float:
    within = min(max(share, -1.0), 1.0)
    return (BAR_LEFT + BAR_RIGHT) / 2 + within * (BAR_RIGHT - BAR_LEFT) / 2


def _draw_filter(canvas: Canvas, mark: FilterMark, reach: float, top: int) -> None:
    axis = top + 30
    _draw_label(canvas, mark.label, top + 16)
    canvas.rule(BAR_LEFT, BAR_RIGHT, axis, LINE)
    canvas.fill(_filter_x(0.0) - 1, axis - 9, _filter_x(0.0) + 1, axis + 10, INK)
    offs = {name: stops - mark.marked for name, stops in mark.stops.items()}
    letters = spread_out([_filter_x(off / reach) for off in offs.values()], 14.0)
    for (name, off), letter in zip(offs.items(), letters, strict=True):
        colour, x = PLANE_COLOURS.get(name, SOFT_INK), _filter_x(off / reach)
        low, high = (_filter_x((off + side) / reach) for side in (-mark.spread, mark.spread))
        canvas.fill(low, axis, high, axis + 2, colour)
        canvas.fill(x - 4, axis - 4, x + 5, axis + 5, colour)
        canvas.text(
            round(letter) - 10, top + 5, 20, name, size=13, bold=True, colour=colour,
            align="middle",
        )  # fmt: skip
    told = ", ".join(f"{name} {stops:.2f}" for name, stops in mark.stops.items())
    told = told.replace("-", "−")
    canvas.text(BAR_RIGHT + 20, top + 17, TEXT_WIDTH, told, size=14, colour=SOFT_INK)


def _draw_curves(canvas: Canvas, lines: tuple[SnrLine, ...], top: int) -> int:
    canvas.paste(_curve_chart(lines), MARGIN, top)
    left = MARGIN + CHART_WIDTH + 24
    below = top + 20
    for number, line in enumerate(lines, 1):
        canvas.text(left, below, 24, str(number), size=14, bold=True)
        canvas.text(left + 28, below, WIDTH - MARGIN - left - 28, line.label, size=14)
        below += line_height(14) + 6
    text = "Dotted: light's own noise alone. Where a curve crosses 1 is the noise floor."
    canvas.paragraph(left, below + 10, WIDTH - MARGIN - left, text, size=13, colour=SOFT_INK)
    return top + CHART_HEIGHT + 24


def _curve_chart(lines: tuple[SnrLine, ...]) -> U8:
    """Draw signal over noise against signal, two stops a grid line; (height, width, 4)."""
    with chart_style():
        figure = Figure(figsize=(CHART_WIDTH / 100, CHART_HEIGHT / 100), dpi=100)
        axes = figure.add_axes((0.09, 0.13, 0.89, 0.80))
        most = max(line.points[-1][0] for line in lines)
        axes.plot((1, 2.0**most), (1, 2.0 ** (most / 2)), ":", color=hexed(SOFT_INK), linewidth=1.2)
        for number, line in enumerate(lines):
            electrons, ratios = (2.0 ** np.array(part) for part in zip(*line.points, strict=True))
            dashes = DASHES[number % len(DASHES)]
            axes.plot(electrons, ratios, color=hexed(INK), linewidth=1.6, linestyle=dashes)
        axes.set_xscale("log", base=2)
        axes.set_yscale("log", base=2)
        axes.set_ylim(bottom=0.25)
        _number_curves(axes, lines)
        axes.grid(color=hexed(TRACK), linewidth=0.8)
        axes.xaxis.set_major_formatter("{x:.0f}")
        axes.yaxis.set_major_formatter("{x:g}")
        axes.tick_params(labelsize=9, labelcolor=hexed(SOFT_INK), length=0)
        axes.set_xlabel("signal, electrons", fontsize=10, color=hexed(SOFT_INK))
        axes.set_title("signal over noise", fontsize=10, color=hexed(SOFT_INK), loc="left")
        drawn: Any = FigureCanvasAgg(figure)
        drawn.draw()
        return np.array(drawn.buffer_rgba())


def _number_curves(axes: Axes, lines: tuple[SnrLine, ...]) -> None:
    """Write the curves' numbers at their ends, side by side where they end at one place."""
    ends = [tuple(2.0**part for part in line.points[-1]) for line in lines]
    across = [float(axes.transData.transform(end)[0]) for end in ends]
    places = spread_out(across, 14.0)
    for number, (end, own, place) in enumerate(zip(ends, across, places, strict=True), 1):
        axes.annotate(
            str(number), end, xytext=(place - own, 7), ha="center", textcoords="offset pixels",
            fontsize=10, fontweight="bold", color=hexed(INK),
        )  # fmt: skip


def _draw_foot(canvas: Canvas, page: HistoryPage, top: int) -> int:
    canvas.rule(MARGIN, WIDTH - MARGIN, top + 6, LINE)
    top += 24
    for text in page.notes:
        top = canvas.paragraph(MARGIN, top, INNER, text, size=13, colour=SOFT_INK)
    for text in page.cautions:
        top = canvas.paragraph(MARGIN, top + 6, INNER, text, size=14)
    return min(MOST_HEIGHT, top + 36)
