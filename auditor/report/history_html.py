"""The history as one page of HTML, its drawings as numbers for SVG: no script, no network."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from markupsafe import Markup

from auditor.model.history import History
from auditor.model.numbers import counted_stops
from auditor.report.history_chart import (
    LEAST_SNR_STOPS,
    MOST_LINES,
    Dot,
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
from auditor.report.html import digest, page_style, page_template
from auditor.words import values as words
from auditor.words.history import BARS_LEGEND

STYLES = ("base.css", "shell.css", "booklet.css", "history.css")
BAR_WIDTH = 400.0
SPOT_LEFT, SPOT_RIGHT = 20.0, 460.0
TREND_LEFT, TREND_RIGHT, TREND_MIDDLE, TREND_HALF = 12.0, 426.0, 32.0, 24.0
PLOT_LEFT, PLOT_RIGHT, PLOT_TOP, PLOT_BOTTOM = 52.0, 600.0, 16.0, 350.0
LETTER_GAP = 11.0
NUMBER_GAP = 16.0
"""Between the numbers of two curves that end at one place."""
MOST_NUMBER_X = 628.0


@dataclass(frozen=True, slots=True)
class Bar:
    """One bar of stops left; x runs from the darkest, left, to saturation, right."""

    label: str
    text: str
    left: float
    width: float
    median: float


@dataclass(frozen=True, slots=True)
class Bars:
    """All bars over one axis."""

    bars: tuple[Bar, ...]
    ticks: tuple[str, ...]
    note: str = BARS_LEGEND


@dataclass(frozen=True, slots=True)
class Spot:
    """One filter about its marking."""

    label: str
    text: str
    dots: tuple[Dot, ...]


@dataclass(frozen=True, slots=True)
class Tick:
    """A mark on an axis."""

    at: float
    text: str = ""


@dataclass(frozen=True, slots=True)
class Spots:
    """All filters over one axis, the marking in the middle."""

    spots: tuple[Spot, ...]
    ticks: tuple[Tick, ...]
    left_text: str
    right_text: str


@dataclass(frozen=True, slots=True)
class Trend:
    """One filter over the evenings: a polyline and its dots, high up where it is denser."""

    label: str
    about: str
    text: str
    points: str
    dots: tuple[tuple[float, float], ...]
    value_y: float
    value: str


@dataclass(frozen=True, slots=True)
class Trends:
    """All filters over one axis of time, from the first evening to the last."""

    trends: tuple[Trend, ...]
    first: str
    last: str
    reach: str


@dataclass(frozen=True, slots=True)
class Curve:
    """One polyline, its end, and where its number stands across."""

    label: str
    points: str
    end_x: float
    end_y: float
    number_x: float


@dataclass(frozen=True, slots=True)
class Curves:
    """Signal-to-noise curves over one pair of axes."""

    lines: tuple[Curve, ...]
    ideal: str
    x_ticks: tuple[Tick, ...]
    y_ticks: tuple[Tick, ...]
    left_out: int


def build_history_html(history: History) -> bytes:
    """Write the history as one HTML page, UTF-8.

    Parameters
    ----------
    history : History
        Every text in it is escaped.
    """
    page, style = history_page(history), page_style(STYLES)
    text = page_template("history.html.j2").render(
        page=page,
        charts=charts_of(page),
        style=Markup(style),
        policy=f"default-src 'none'; style-src {digest(style)}; img-src data:; base-uri 'none'; "
        "form-action 'none'",
    )
    return text.encode("utf-8", "replace")


@dataclass(frozen=True, slots=True)
class Charts:
    """All drawings of the page."""

    bars: Bars
    spots: Spots
    trends: Trends
    curves: Curves


def charts_of(page: HistoryPage) -> Charts:
    """Lay out the drawings."""
    return Charts(_bars(page.bars), _spots(page.filters), _trends(page.trends), _curves(page.lines))


def _bars(bars: Sequence[SpareBar]) -> Bars:
    """Lay out how much headroom each kind of frame left."""
    stops = axis_stops(bars)
    scale = BAR_WIDTH / stops

    def x(value: float) -> float:
        return round(BAR_WIDTH - value * scale, 1)

    drawn = tuple(
        Bar(
            label=bar.label,
            text=spare_text(bar),
            left=x(bar.high),
            width=round(max(2.0, (bar.high - bar.low) * scale), 1),
            median=x(bar.median),
        )
        for bar in bars
    )
    return Bars(drawn, tuple(str(stop) for stop in range(stops, -1, -1)))


def _spots(filters: Sequence[FilterMark]) -> Spots:
    """Lay out what each filter measured in each channel, about its marking."""
    reach = reach_stops(filters)
    thirds = range(-round(3 * reach), round(3 * reach) + 1)

    axis = MiddleAxis(left=SPOT_LEFT, right=SPOT_RIGHT, reach=reach)
    spots = []
    for mark in filters:
        told = ", ".join(f"{colour} {words.fine(off)}" for colour, off in mark.offs.items())
        text = f"{mark.label}, stops off the marking: {told}"
        spots.append(Spot(mark.label, text, dots_of(mark, axis, LETTER_GAP)))
    return Spots(
        spots=tuple(spots),
        ticks=tuple(Tick(axis.x(third / 3.0)) for third in thirds if third),
        left_text=f"{counted_stops(reach)} thinner",
        right_text=f"{counted_stops(reach)} denser",
    )


def _trends(trends: Sequence[FilterTrend]) -> Trends:
    """Lay out what each filter measured over the evenings."""
    first, last = span_of(trends)
    reach, span = reach_stops(trends), max(1, (last - first).days)

    def place(when: date, off: float) -> tuple[float, float]:
        across = TREND_LEFT + (TREND_RIGHT - TREND_LEFT) * (when - first).days / span
        return round(across, 1), round(TREND_MIDDLE - TREND_HALF * off / reach, 1)

    drawn = []
    for trend in trends:
        dots = tuple(place(when, off) for when, off in trend.offs)
        values = [stops for _, stops in trend.days]
        about = f"{min(values):.2f} to {max(values):.2f} over {len(values)} evenings"
        drawn.append(
            Trend(
                label=trend.label,
                about=about,
                text=f"{trend.label}: {about}, the latest {values[-1]:.2f} stops",
                points=" ".join(f"{x},{y}" for x, y in dots),
                dots=dots,
                value_y=dots[-1][1] + 4.0,
                value=f"{values[-1]:.2f}",
            )
        )
    return Trends(tuple(drawn), words.day(first), words.day(last), counted_stops(reach))


def _curves(lines: Sequence[SnrLine]) -> Curves:
    """Lay out signal over noise against signal, both in stops; numbers side by side at the ends."""
    shown = lines[:MOST_LINES]
    top_x = max((line.points[-1][0] for line in shown), default=12.0)
    most_x, most_y = math.ceil(top_x), math.ceil(top_x / 2.0) + 1

    def x(stops: float) -> float:
        return round(PLOT_LEFT + (PLOT_RIGHT - PLOT_LEFT) * stops / most_x, 1)

    def y(stops: float) -> float:
        share = (stops - LEAST_SNR_STOPS) / (most_y - LEAST_SNR_STOPS)
        return round(PLOT_BOTTOM - (PLOT_BOTTOM - PLOT_TOP) * share, 1)

    ends = [line.points[-1] for line in shown]
    places = spread_out([x(across) for across, _ in ends], NUMBER_GAP)
    over = max(0.0, max(places, default=0.0) - MOST_NUMBER_X)
    curves = []
    for line, (across, up), place in zip(shown, ends, places, strict=True):
        seen = [point for point in line.points if point[1] >= LEAST_SNR_STOPS]
        points = " ".join(f"{x(signal)},{y(ratio)}" for signal, ratio in seen)
        curves.append(Curve(line.label, points, x(across), y(up), round(place - over, 1)))
    return Curves(
        lines=tuple(curves),
        ideal=f"{x(0.0)},{y(0.0)} {x(float(most_x))},{y(most_x / 2.0)}",
        x_ticks=tuple(Tick(x(stop), f"{2**stop}") for stop in range(0, most_x + 1, 2)),
        y_ticks=tuple(Tick(y(stop), f"{2.0**stop:g}") for stop in range(-2, most_y + 1, 2)),
        left_out=len(lines) - len(shown),
    )
