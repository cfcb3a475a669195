"""The history in words and figures, for the page, the picture and the terminal alike."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from auditor.history.curves import snr_curve
from auditor.light.cautions import FILTERS_AND_EYES, WHO_COMES_FIRST
from auditor.light.sun import PHASES
from auditor.model.history import (
    ExposureRow,
    Habit,
    History,
    HotRow,
    KnownFilter,
    PreviewRow,
    SensorRow,
    Spread,
)
from auditor.model.numbers import share_text, stops_text
from auditor.report.words import counted, day, listed, moment, name, plain

DASH = "–"
COLOURS = {"R": "red", "G": "green", "B": "blue", "L": "all light"}


@dataclass(frozen=True, slots=True)
class Table:
    """Rows of text under a title; the first column names the row, the others hold figures."""

    key: str
    title: str
    about: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class SpareBar:
    """Stops left under saturation by one kind of frame: the spread about the median."""

    label: str
    frames: int
    low: float
    median: float
    high: float
    lost_share: float


@dataclass(frozen=True, slots=True)
class FilterMark:
    """What one filter holds back of each channel, against its marking."""

    label: str
    marked: float
    stops: dict[str, float]
    spread: float


@dataclass(frozen=True, slots=True)
class SnrLine:
    """One signal-to-noise curve of green, both axes in stops."""

    label: str
    points: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class HistoryPage:
    """Everything that the reporters of the history show."""

    title: str
    summary: tuple[str, ...]
    habits: tuple[Habit, ...]
    no_habits: str
    tables: tuple[Table, ...]
    detail: Table | None
    bars: tuple[SpareBar, ...]
    filters: tuple[FilterMark, ...]
    lines: tuple[SnrLine, ...]
    notes: tuple[str, ...]
    cautions: tuple[str, ...]


def history_page(history: History) -> HistoryPage:
    """Put the history into words."""
    tables = (
        _exposure_table(history.exposure),
        _preview_table(history.previews),
        _filter_table(history.filters),
        _hot_table(history.hot),
        _sensor_table(history.sensors),
    )
    return HistoryPage(
        title="What your shoots have taught",
        summary=tuple(_summary(history)),
        habits=tuple(_shown(habit) for habit in history.habits),
        no_habits=_no_habits(history),
        tables=tuple(table for table in tables if table.rows),
        detail=_detail_table(history.exposure),
        bars=_bars(history.exposure),
        filters=tuple(_mark(entry) for entry in history.filters),
        lines=_lines(history.sensors),
        notes=tuple(plain(note) for note in history.notes),
        cautions=(FILTERS_AND_EYES, WHO_COMES_FIRST),
    )


def _shown(habit: Habit) -> Habit:
    return Habit(
        code=habit.code,
        text=plain(habit.text),
        evidence=plain(habit.evidence),
        weight=habit.weight,
        frames=habit.frames,
        value_stops=habit.value_stops,
        caution=plain(habit.caution),
    )


def _summary(history: History) -> Iterable[str]:
    if not history.frames:
        yield "Nothing is remembered yet. Audit a shoot first: auditor audit PATH --out DIR."
        return
    shoots = counted(history.shoots, "shoot")
    yield f"{counted(history.frames, 'frame')} of {shoots}{_span(history)}."
    row = history.exposure[0] if history.exposure else None
    if row is not None and row.spare is not None:
        lost = f"a channel was lost in {share_text(row.lost, row.frames)} of the frames"
        yield (
            f"Frames that lost no channel could have taken {stops_text(row.spare.median)} stops "
            f"more light (median of {row.spare.count}); {lost if row.lost else 'none lost one'}."
        )


def _span(history: History) -> str:
    first, last = moment(history.first_at), moment(history.last_at)
    if first is None or last is None:
        return ""
    if first.date() == last.date():
        return f", {day(first)}"
    return f", {day(first)} to {day(last)}"


def _no_habits(history: History) -> str:
    if history.habits or not history.frames:
        return ""
    return "No habit stands out over enough frames to be worth changing."


def _spread_text(spread: Spread | None, digits: int = 1) -> str:
    """Print mean and scatter; the count stands in its own column."""
    if spread is None:
        return DASH
    if spread.spread is None:
        return f"{spread.mean:.{digits}f}"
    return f"{spread.mean:.{digits}f} ± {spread.spread:.{digits}f}"


def row_label(row: ExposureRow) -> str:
    """Name one row of how frames were placed."""
    parts = [name(part) for part in (row.body, row.lens) if part]
    if row.phase:
        parts.append(row.phase)
    if row.filtered is not None:
        parts.append("filtered" if row.filtered else "unfiltered")
    return ", ".join(parts) or "all frames"


def _headings(row: ExposureRow) -> int:
    return sum(part is not None for part in (row.body, row.lens, row.phase, row.filtered))


def _in_order(rows: Sequence[ExposureRow]) -> list[ExposureRow]:
    """Put phases in the order of a day."""
    order = {phase: place for place, phase in enumerate(PHASES)}
    phases = sorted((row for row in rows if row.phase), key=lambda row: order[row.phase or "day"])
    rest = iter(phases)
    return [next(rest) if row.phase else row for row in rows]


def _exposure_table(rows: Sequence[ExposureRow]) -> Table:
    shown = _in_order([row for row in rows if _headings(row) <= 1])
    return Table(
        "placement", "How your frames are placed",
        "Stops left under saturation over the frames that lost no channel: median, and mean with "
        "the scatter of one frame. Brackets and dark frames are not counted.",
        ("", "frames", "median left", "mean left", "channel lost", "which"),
        tuple(_exposure_cells(row) for row in shown),
    )  # fmt: skip


def _detail_table(rows: Sequence[ExposureRow]) -> Table | None:
    shown = [row for row in rows if _headings(row) > 1]
    if not shown:
        return None
    return Table(
        "detail", "By body, lens, time and filter together", "",
        ("", "frames", "median left", "mean left", "channel lost", "which"),
        tuple(_exposure_cells(row) for row in shown),
    )  # fmt: skip


def _exposure_cells(row: ExposureRow) -> tuple[str, ...]:
    channels = (row.lost_by_channel or {}).items()
    return (
        row_label(row),
        str(row.frames),
        DASH if row.spare is None else stops_text(row.spare.median),
        _spread_text(row.spare),
        f"{row.lost} ({share_text(row.lost, row.frames)})" if row.lost else "none",
        listed([f"{COLOURS.get(colour, colour)} {count}" for colour, count in channels]) or DASH,
    )


def _bars(rows: Sequence[ExposureRow]) -> tuple[SpareBar, ...]:
    shown = _in_order([row for row in rows if _headings(row) <= 1])
    return tuple(_bar(row, row.spare) for row in shown if row.spare is not None)


def _bar(row: ExposureRow, spare: Spread) -> SpareBar:
    scatter = spare.spread or 0.0
    return SpareBar(
        label=row_label(row),
        frames=row.frames,
        low=max(spare.least, spare.mean - scatter),
        median=spare.median,
        high=min(spare.most, spare.mean + scatter),
        lost_share=row.lost_share,
    )


def _preview_table(rows: Sequence[PreviewRow]) -> Table:
    return Table(
        "previews", "How far the camera's preview misleads",
        "By how many stops each channel of the preview clips before the sensor does; negative: "
        "after it. False alarms are frames whose preview showed lost highlights that the raw "
        "data hold.",
        ("", "frames", "red", "green", "blue", "false alarms"),
        tuple(
            (
                name(row.body),
                str(row.frames),
                *(_spread_text(row.early.get(colour), 2) for colour in ("R", "G", "B")),
                str(row.false_alarms),
            )
            for row in rows
        ),
    )  # fmt: skip


def _filter_table(rows: Sequence[KnownFilter]) -> Table:
    return Table(
        "filters", "Your filters as they really are",
        "Stops held back by channel, means over all pairs with and without the filter. Use the "
        "name with: auditor nd-time SHUTTER --filter NAME.",
        ("", "pairs", "shoots", "red", "green", "blue", "one pair scatters", "marking", "off it"),
        tuple(_filter_cells(row) for row in rows),
    )  # fmt: skip


def _filter_cells(row: KnownFilter) -> tuple[str, ...]:
    stops = [row.stops_by_channel.get(colour) for colour in ("R", "G", "B")]
    return (
        name(row.name),
        str(row.count),
        str(row.shoots),
        *(DASH if value is None else f"{value:.2f}" for value in stops),
        f"± {row.spread_stops:.2f}",
        row.marking.label,
        f"{row.off_marking_stops:+.2f}".replace("-", "−"),
    )


def _mark(entry: KnownFilter) -> FilterMark:
    return FilterMark(
        name(entry.name), entry.marking.stops, entry.stops_by_channel, entry.spread_stops
    )


def _hot_table(rows: Sequence[HotRow]) -> Table:
    return Table(
        "hot", "Hot pixels",
        "Isolated bright pixels a megapixel. Those that stay are hot in at least half of the "
        "long exposures of two shoots or more.",
        ("", "frames", "a megapixel", "from one second on", "that stay"),
        tuple(
            (
                name(row.body),
                str(row.frames),
                _spread_text(row.per_megapixel),
                _spread_text(row.long_per_megapixel),
                DASH if row.staying is None else str(row.staying),
            )
            for row in rows
        ),
    )  # fmt: skip


def _sensor_table(rows: Sequence[SensorRow]) -> Table:
    return Table(
        "sensor", "Your sensors",
        "Saturation where it was seen, not claimed; read noise and full well in electrons; "
        "dynamic range from saturation down to where one pixel's signal equals its noise "
        "(EMVA 1288).",
        ("", "ISO", "channel", "frames", "black", "clips at", "read noise", "full well", "range"),
        tuple(_sensor_cells(row) for row in rows),
    )  # fmt: skip


def _sensor_cells(row: SensorRow) -> tuple[str, ...]:
    full, read = row.full_well_e, row.read_noise_e
    return (
        name(row.body),
        f"{row.iso:g}",
        row.channel,
        str(row.frames),
        _spread_text(row.black_dn),
        _spread_text(row.saturation_dn, 0),
        DASH if read is None else f"{read:.1f} e⁻",
        DASH if full is None else f"{full:.0f} e⁻",
        DASH if row.dynamic_range_stops is None else f"{row.dynamic_range_stops:.1f} stops",
    )


def _lines(rows: Sequence[SensorRow]) -> tuple[SnrLine, ...]:
    """Draw green (or the only channel) of every body and ISO whose noise is known."""
    return tuple(
        SnrLine(f"{name(row.body)}, ISO {row.iso:g}", snr_curve(row.read_noise_e, row.full_well_e))
        for row in rows
        if row.channel in ("G", "G1", "L")
        and row.read_noise_e is not None
        and row.full_well_e is not None
        and row.full_well_e > 2.0
    )
