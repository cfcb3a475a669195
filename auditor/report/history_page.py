"""The history in words and figures, for the page, the picture and the terminal alike."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date

from auditor.history.rows import snr_curve
from auditor.model.history import Habit, History
from auditor.report.history_tables import (
    MOST_EVENINGS,
    Table,
    detail_table,
    filter_texts,
    history_tables,
    left_text,
    lost_text,
    row_label,
    single_rows,
)
from auditor.words.cautions import HISTORY
from auditor.words.findings import COLOURS
from auditor.words.history import no_habits_text, summary_lines
from auditor.words.values import day, name, plain, sensor_names


@dataclass(frozen=True, slots=True)
class SpareBar:
    """Stops left under saturation by one kind of frame: the spread about the median."""

    label: str
    low: float
    median: float
    high: float
    lost_share: float


@dataclass(frozen=True, slots=True)
class FilterMark:
    """What was measured of each channel, in stops, against where it was meant to lie.

    What a filter holds back against its marking; by how much a preview clips before the sensor
    does, against 0.
    """

    label: str
    marked: float
    stops: dict[str, float]
    spread: float

    @property
    def offs(self) -> dict[str, float]:
        """How far each channel lies off the marking, in stops."""
        return {name: stops - self.marked for name, stops in self.stops.items()}

    @property
    def most_off(self) -> float:
        """How far the farthest does."""
        return max(map(abs, self.offs.values()), default=0.0)


@dataclass(frozen=True, slots=True)
class FilterTrend:
    """What one filter measured on each evening, the earliest first, against its marking."""

    label: str
    marked: float
    days: tuple[tuple[date, float], ...]

    @property
    def offs(self) -> tuple[tuple[date, float], ...]:
        """How far each evening's figure lies off the marking, in stops."""
        return tuple((day, stops - self.marked) for day, stops in self.days)

    @property
    def most_off(self) -> float:
        """How far the farthest does."""
        return max((abs(off) for _, off in self.offs), default=0.0)


@dataclass(frozen=True, slots=True)
class EveningRow:
    """One evening in words: ``filters`` holds a line for each strength."""

    day: str
    report: str
    picture: bytes
    picture_of: str
    frames: int
    left: str
    lost: str
    filters: tuple[str, ...]


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
    evenings: tuple[EveningRow, ...]
    trends: tuple[FilterTrend, ...]
    detail: Table | None
    bars: tuple[SpareBar, ...]
    filters: tuple[FilterMark, ...]
    previews: tuple[FilterMark, ...]
    lines: tuple[SnrLine, ...]
    notes: tuple[str, ...]
    cautions: tuple[str, ...]


def history_page(history: History) -> HistoryPage:
    """Put the history into words."""
    trends = []
    for known in history.filters:
        days = tuple(
            (date.fromisoformat(evening.day), evening.known_stops[known.name])
            for evening in reversed(history.evenings)
            if known.name in evening.known_stops
        )
        if len(days) > 1:
            trends.append(FilterTrend(name(known.name), known.marking.stops, days))
    names = sensor_names(history.sensors)
    return HistoryPage(
        title="What your shoots have taught",
        summary=tuple(summary_lines(history)),
        habits=tuple(
            replace(
                habit,
                text=plain(habit.text),
                evidence=plain(habit.evidence),
                caution=plain(habit.caution),
            )
            for habit in history.habits
        ),
        no_habits=no_habits_text(history),
        tables=history_tables(history),
        evenings=tuple(
            EveningRow(
                day=day(date.fromisoformat(evening.day)),
                report=evening.report,
                picture=evening.picture,
                picture_of=name(evening.picture_of),
                frames=evening.frames,
                left=left_text(evening),
                lost=lost_text(evening),
                filters=filter_texts(evening),
            )
            for evening in history.evenings[:MOST_EVENINGS]
        ),
        trends=tuple(trends),
        detail=detail_table(history.exposure),
        bars=tuple(
            SpareBar(
                label=row_label(row),
                low=max(row.spare.least, row.spare.mean - (row.spare.spread or 0.0)),
                median=row.spare.median,
                high=min(row.spare.most, row.spare.mean + (row.spare.spread or 0.0)),
                lost_share=row.lost_share,
            )
            for row in single_rows(history.exposure)
            if row.spare is not None
        ),
        filters=tuple(
            FilterMark(
                name(entry.name), entry.marking.stops, entry.stops_by_channel, entry.spread_stops
            )
            for entry in history.filters
        ),
        previews=tuple(
            FilterMark(
                name(row.body),
                0.0,
                {colour: row.early[colour].mean for colour in COLOURS if colour in row.early},
                max(spread.spread or 0.0 for spread in row.early.values()),
            )
            for row in history.previews
            if row.early
        ),
        lines=tuple(
            SnrLine(
                f"{name(names[row.body, row.sensor])}, ISO {row.iso:g}",
                snr_curve(row.read_noise_e, row.full_well_e),
            )
            for row in history.sensors
            # green (or the only channel) of every body and ISO whose noise is known
            if row.channel in ("G", "G1", "L")
            and row.read_noise_e is not None
            and row.full_well_e is not None
            and row.full_well_e > 2.0
        ),
        notes=tuple(plain(note) for note in history.notes),
        cautions=HISTORY,
    )
