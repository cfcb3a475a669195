"""The history as one picture: habits, placement, filters, sensors."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from auditor.model.arrays import U8
from auditor.model.history import History
from auditor.model.numbers import counted_stops
from auditor.report.chart_style import Axes, Figure, FigureCanvasAgg, chart_style
from auditor.report.history_chart import (
    LEAST_SNR_STOPS,
    MOST_LINES,
    MiddleAxis,
    axis_stops,
    dots_of,
    reach_stops,
    span_of,
    spare_text,
    spread_out,
)
from auditor.report.history_page import (
    FilterMark,
    FilterTrend,
    HistoryPage,
    SnrLine,
    SpareBar,
    history_page,
)
from auditor.report.png_canvas import A4_WIDTH, HEAD, SMALL, TITLE, Canvas
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
from auditor.words import values as words
from auditor.words.history import BARS_LEGEND, TABLE_ABOUT
from auditor.words.page import CURVES_LEGEND, EVENINGS_LEGEND, no_room

WIDTH = A4_WIDTH
MARGIN = 66
INNER = WIDTH - 2 * MARGIN
LABEL_WIDTH, TEXT_WIDTH = 360, 320
BAR_LEFT, BAR_RIGHT = MARGIN + LABEL_WIDTH + 20, WIDTH - MARGIN - TEXT_WIDTH - 20
ROW = 40
MOST_ROWS = 24
MOST_HEIGHT = 7000
CHART_WIDTH, CHART_HEIGHT, CHART_DPI = 1040, 590, 138
TREND_HEIGHT = 330
CHART_TEXT_PT = 10
"""Drawn at ``CHART_DPI``: as large as the text beside it."""
SUBTITLE = 31
FILTER_SIDES = ("thinner", "as marked", "denser")
PREVIEW_SIDES = ("after it", "with the sensor", "before it")
DASHES = ("-", (0, (7, 3)), (0, (2, 2)), (0, (9, 3, 2, 3)))


def build_history_png(history: History) -> bytes:
    """Draw the history as one PNG, as wide as a sheet of A4."""
    page = history_page(history)
    canvas = Canvas(WIDTH, MOST_HEIGHT)
    top = _draw_habits(canvas, page)
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
    if page.trends:
        top = _draw_trends(canvas, page.trends[:MOST_LINES], top)
        top = _draw_rest(canvas, len(page.trends) - MOST_LINES, top)
    if page.lines:
        top = _draw_curves(canvas, page.lines[:MOST_LINES], _headed(canvas, top, page, "sensor"))
        top = _draw_rest(canvas, len(page.lines) - MOST_LINES, top)
    canvas.rule(MARGIN, WIDTH - MARGIN, top + 6, LINE)
    top += 24
    for text in page.notes:
        top = canvas.paragraph(MARGIN, top, INNER, text, size=SMALL, colour=SOFT_INK)
    for text in page.cautions:
        top = canvas.paragraph(MARGIN, top + 6, INNER, text)
    return canvas.to_png(min(MOST_HEIGHT, top + 46))


def _draw_habits(canvas: Canvas, page: HistoryPage) -> int:
    """Draw the title, what is remembered, and the habits with their cautions."""
    draw_wedge(canvas, StopsAxis(0, WIDTH, 13.0), 0, 16)
    canvas.text(MARGIN, 60, INNER, page.title, size=TITLE, bold=True)
    top = 132
    for sentence in (*page.summary, page.no_habits):
        top = canvas.paragraph(MARGIN, top, INNER, sentence, size=HEAD, colour=SOFT_INK)
    top += 34
    left, width = MARGIN + 70, INNER - 70
    for number, habit in enumerate(page.habits, 1):
        canvas.text(MARGIN, top, 56, str(number), size=TITLE, colour=SOFT_INK)
        top = canvas.paragraph(left, top, width, habit.text, size=HEAD)
        top = canvas.paragraph(left, top, width, habit.evidence, colour=SOFT_INK)
        if habit.caution:
            mark = top + 6
            top = canvas.paragraph(left + 14, mark, width - 14, habit.caution, size=SMALL)
            canvas.fill(left, mark, left + 3, top, INK)
        top += 28
    return top


def _headed(canvas: Canvas, top: int, page: HistoryPage, key: str) -> int:
    """Draw a part's title and what it is about; return where its drawing starts."""
    table = next(table for table in page.tables if table.key == key)
    canvas.rule(MARGIN, WIDTH - MARGIN, top + 6, LINE)
    canvas.text(MARGIN, top + 32, INNER, table.title, size=SUBTITLE, bold=True)
    return canvas.paragraph(MARGIN, top + 86, INNER, TABLE_ABOUT[key][0], colour=SOFT_INK) + 20


def _draw_rest(canvas: Canvas, more: int, top: int) -> int:
    """Say how many rows had no room; return the y below."""
    return canvas.paragraph(MARGIN, top, INNER, no_room(more), colour=SOFT_INK)


def _draw_bars(canvas: Canvas, bars: tuple[SpareBar, ...], top: int) -> int:
    axis = StopsAxis(BAR_LEFT, BAR_RIGHT, float(axis_stops(bars)))
    for bar in bars:
        canvas.text(MARGIN, top + 1, LABEL_WIDTH, bar.label)
        canvas.fill(axis.left, top + 5, axis.right, top + 27, TRACK)
        canvas.fill(
            axis.x(bar.high), top + 9, max(axis.x(bar.low), axis.x(bar.high) + 2), top + 23, TONE
        )
        canvas.fill(axis.x(bar.median) - 2, top + 2, axis.x(bar.median) + 2, top + 30, INK)
        canvas.fill(axis.right, top + 2, axis.right + 1, top + 30, SOFT_INK)
        canvas.text(BAR_RIGHT + 20, top + 2, TEXT_WIDTH, spare_text(bar), colour=SOFT_INK)
        top += ROW
    for stop in range(int(axis.depth) + 1):
        canvas.text(
            round(axis.x(stop)) - 20,
            top,
            40,
            str(stop),
            size=SMALL,
            colour=SOFT_INK,
            align="middle",
        )
    told = "stops under saturation"
    canvas.text(BAR_RIGHT + 24, top, TEXT_WIDTH, told, size=SMALL, colour=SOFT_INK)
    return canvas.paragraph(MARGIN, top + 34, INNER, BARS_LEGEND, size=SMALL, colour=SOFT_INK) + 14


def _draw_filters(
    canvas: Canvas, filters: tuple[FilterMark, ...], top: int, sides: tuple[str, str, str]
) -> int:
    """Draw where each channel lies about the middle; ``sides`` names left, middle and right."""
    reach = reach_stops(filters)
    places = MiddleAxis(left=BAR_LEFT, right=BAR_RIGHT, reach=reach)
    for mark in filters:
        axis = top + 40
        canvas.text(MARGIN, top + 26, LABEL_WIDTH, mark.label)
        canvas.rule(BAR_LEFT, BAR_RIGHT, axis, LINE)
        canvas.fill(places.x(0.0) - 1, axis - 9, places.x(0.0) + 1, axis + 10, INK)
        for dot in dots_of(mark, places, 20.0):
            colour = PLANE_COLOURS.get(dot.colour, SOFT_INK)
            canvas.fill(dot.low, axis, dot.high, axis + 2, colour)
            canvas.fill(dot.x - 4, axis - 4, dot.x + 5, axis + 5, colour)
            canvas.text(
                round(dot.letter_x) - 12, top + 6, 24, dot.colour, size=SMALL, bold=True,
                colour=colour, align="middle",
            )  # fmt: skip
        told = ", ".join(f"{name} {stops:.2f}" for name, stops in mark.stops.items())
        told = told.replace("-", "−")
        canvas.text(BAR_RIGHT + 20, top + 25, TEXT_WIDTH, told, size=SMALL, colour=SOFT_INK)
        top += ROW + 20
    for off, side in zip((-reach, 0.0, reach), sides, strict=True):
        text = f"{counted_stops(reach)} {side}" if off else side
        canvas.text(
            round(places.x(off)) - 100, top, 200, text, size=SMALL, colour=SOFT_INK, align="middle"
        )
    return top + 44


def _draw_key(canvas: Canvas, labels: Sequence[str], text: str, top: int) -> None:
    """Name the numbered lines of a chart at its right."""
    left, below = MARGIN + CHART_WIDTH + 24, top + 20
    for number, label in enumerate(labels, 1):
        canvas.text(left, below, 30, str(number), bold=True)
        below = canvas.paragraph(left + 34, below, WIDTH - MARGIN - left - 34, label) + 6
    canvas.paragraph(left, below + 10, WIDTH - MARGIN - left, text, size=SMALL, colour=SOFT_INK)


def _draw_trends(canvas: Canvas, trends: tuple[FilterTrend, ...], top: int) -> int:
    """Draw what each filter measured on each evening, in stops off its marking."""
    with chart_style():
        figure, axes = _chart(TREND_HEIGHT, (0.09, 0.17, 0.82, 0.68))
        axes.axhline(0.0, color=hexed(SOFT_INK), linewidth=1.0)
        for number, trend in enumerate(trends):
            days = [day.toordinal() for day, _ in trend.offs]
            offs = [off for _, off in trend.offs]
            dashes = DASHES[number % len(DASHES)]
            axes.plot(days, offs, color=hexed(INK), linewidth=1.4, linestyle=dashes)
            axes.plot(days, offs, "o", color=hexed(INK), markersize=4)
        _number_curves(
            axes, [(day.toordinal(), off) for *_, (day, off) in (t.offs for t in trends)]
        )
        ends = span_of(trends)
        axes.set_xticks([day.toordinal() for day in ends], [words.day(day) for day in ends])
        reach = reach_stops(trends)
        axes.set_ylim(-reach, reach)
        axes.set_title("stops off the marking, denser above", fontsize=CHART_TEXT_PT, loc="left")
        canvas.paste(_drawn(figure), MARGIN, top)
    _draw_key(canvas, [trend.label for trend in trends], EVENINGS_LEGEND, top)
    return top + TREND_HEIGHT + 24


def _chart(height: int, place: tuple[float, float, float, float]) -> tuple[Figure, Axes]:
    figure = Figure(figsize=(CHART_WIDTH / CHART_DPI, height / CHART_DPI), dpi=CHART_DPI)
    axes = figure.add_axes(place)
    axes.grid(color=hexed(TRACK), linewidth=0.8)
    axes.tick_params(labelsize=CHART_TEXT_PT, labelcolor=hexed(SOFT_INK), length=0)
    return figure, axes


def _drawn(figure: Figure) -> U8:
    drawn: Any = FigureCanvasAgg(figure)
    drawn.draw()
    return np.array(drawn.buffer_rgba())


def _draw_curves(canvas: Canvas, lines: tuple[SnrLine, ...], top: int) -> int:
    """Draw signal over noise against signal, two stops a grid line."""
    with chart_style():
        figure, axes = _chart(CHART_HEIGHT, (0.09, 0.13, 0.89, 0.80))
        most = max(line.points[-1][0] for line in lines)
        axes.plot((1, 2.0**most), (1, 2.0 ** (most / 2)), ":", color=hexed(SOFT_INK), linewidth=1.2)
        for number, line in enumerate(lines):
            electrons, ratios = (2.0 ** np.array(part) for part in zip(*line.points, strict=True))
            dashes = DASHES[number % len(DASHES)]
            axes.plot(electrons, ratios, color=hexed(INK), linewidth=1.6, linestyle=dashes)
        axes.set_xscale("log", base=2)
        axes.set_yscale("log", base=2)
        axes.set_ylim(bottom=2.0**LEAST_SNR_STOPS)
        _number_curves(axes, [(2.0**x, 2.0**y) for *_, (x, y) in (line.points for line in lines)])
        axes.xaxis.set_major_formatter("{x:.0f}")
        axes.yaxis.set_major_formatter("{x:g}")
        look: Any = {"fontsize": CHART_TEXT_PT, "color": hexed(SOFT_INK)}
        axes.set_xlabel("signal, electrons", **look)
        axes.set_title("signal over noise", loc="left", **look)
        canvas.paste(_drawn(figure), MARGIN, top)
    _draw_key(canvas, [line.label for line in lines], CURVES_LEGEND, top)
    return top + CHART_HEIGHT + 24


def _number_curves(axes: Axes, ends: Sequence[tuple[float, float]]) -> None:
    """Write the curves' numbers at their ends, side by side where they end at one place."""
    across = [float(axes.transData.transform(end)[0]) for end in ends]
    places = spread_out(across, 20.0)
    for number, (end, own, place) in enumerate(zip(ends, across, places, strict=True), 1):
        axes.annotate(
            str(number), end, xytext=(place - own, 7), ha="center", textcoords="offset pixels",
            fontsize=CHART_TEXT_PT, fontweight="bold", color=hexed(INK),
        )  # fmt: skip
