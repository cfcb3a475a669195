"""The tables of the history, in words and figures."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from auditor.light.sun import PHASES
from auditor.model.history import Evening, ExposureRow, History, SensorRow, Spread
from auditor.model.numbers import stops_text, whole_share_text
from auditor.model.text import listed
from auditor.words.findings import COLOURS
from auditor.words.history import TABLE_ABOUT
from auditor.words.values import day, name, sensor_names

DASH = "–"
MOST_EVENINGS = 60
"""More are older than what one still asks about."""


@dataclass(frozen=True, slots=True)
class Table:
    """Rows of text under a title; the first column names the row, the others hold figures."""

    key: str
    short: str
    title: str
    about: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


_PLACED = ("", "frames", "median left", "mean left", "channel lost", "which")
_TABLES = {
    "evenings": (
        "Evenings", "Evening by evening", ("", "frames", "headroom", "channel lost", "filters")),
    "placement": ("Placement", "How your frames are placed", _PLACED),
    "previews": (
        "Preview", "How far the camera's preview misleads",
        ("", "frames", "neutral", "red", "green", "blue", "false alarms")),
    "filters": (
        "Filters", "Your filters as they really are",
        ("", "pairs", "shoots", "red", "green", "blue", "one pair scatters", "marking", "off it")),
    "hot": (
        "Hot pixels", "Hot pixels",
        ("", "frames", "per megapixel", "from one second on", "that stay")),
    "sensor": (
        "Sensors", "Your sensors",
        ("", "ISO", "channels", "frames", "black", "clips at", "read noise", "full well", "range")),
}  # fmt: skip
"""In the order in which they are shown: the short name, the title, the columns."""


def history_tables(history: History) -> tuple[Table, ...]:
    """Return the tables that hold something, in the order in which they are shown."""
    rows: dict[str, list[tuple[str, ...]]] = {
        "evenings": [
            (
                day(date.fromisoformat(evening.day)),
                str(evening.frames),
                left_text(evening),
                lost_text(evening),
                "; ".join(filter_texts(evening)) or DASH,
            )
            for evening in history.evenings[:MOST_EVENINGS]
        ],
        "placement": _placement(single_rows(history.exposure)),
        "previews": [
            (
                name(row.body),
                str(row.frames),
                _spread_text(row.neutral, 2),
                *(_spread_text(row.early.get(colour), 2) for colour in ("R", "G", "B")),
                str(row.false_alarms),
            )
            for row in history.previews
        ],
        "filters": [
            (
                name(row.name),
                str(row.count),
                str(row.shoots),
                *(_figure(row.stops_by_channel.get(colour), ".2f") for colour in "RGB"),
                f"± {row.spread_stops:.2f}" if round(row.spread_stops, 2) else "< 0.01",
                row.marking.label,
                f"{row.off_marking_stops:+.2f}".replace("-", "−"),
            )
            for row in history.filters
        ],
        "hot": [
            (
                name(row.body),
                str(row.frames),
                _spread_text(row.per_megapixel),
                _spread_text(row.long_per_megapixel),
                DASH if row.staying is None else str(row.staying),
            )
            for row in history.hot
        ],
        "sensor": _sensors(history.sensors),
    }
    return tuple(
        Table(key, short, title, "".join(TABLE_ABOUT[key]), columns, tuple(rows[key]))
        for key, (short, title, columns) in _TABLES.items()
        if rows[key]
    )


def _sensors(rows: Sequence[SensorRow]) -> list[tuple[str, ...]]:
    """Return a row for all channels of a body at one ISO that say the same: "R, G1, G2"."""
    alike: dict[tuple[str, ...], list[str]] = {}
    names = sensor_names(rows)
    for row in rows:
        cells = (
            name(names[row.body, row.sensor]),
            f"{row.iso:g}",
            str(row.frames),
            _spread_text(row.black_dn),
            _spread_text(row.saturation_dn, 0),
            _figure(row.read_noise_e, ".1f", " e⁻"),
            _figure(row.full_well_e, ".0f", " e⁻"),
            _figure(row.dynamic_range_stops, ".1f", " stops"),
        )
        alike.setdefault(cells, []).append(row.channel)
    return [
        (body, iso, ", ".join(channels), *figures)
        for (body, iso, *figures), channels in alike.items()
    ]


def _spread_text(spread: Spread | None, digits: int = 1) -> str:
    """Print mean and scatter; the count stands in its own column."""
    if spread is None:
        return DASH
    if spread.spread is None:
        return f"{spread.mean:.{digits}f}"
    return f"{spread.mean:.{digits}f} ± {spread.spread:.{digits}f}"


def _figure(value: float | None, form: str, unit: str = "") -> str:
    return DASH if value is None else f"{value:{form}}{unit}"


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


def single_rows(rows: Sequence[ExposureRow]) -> list[ExposureRow]:
    """Return the rows of at most one heading, the phases in the order of a day.

    A kind that all frames are of is told by the row of all frames.
    """
    most = max((row.frames for row in rows), default=0)
    rows = [row for row in rows if _headings(row) <= 1]
    rows = [row for row in rows if row.frames < most or not _headings(row)]
    order = {phase: place for place, phase in enumerate(PHASES)}
    phases = sorted((row for row in rows if row.phase), key=lambda row: order[row.phase or "day"])
    rest = iter(phases)
    return [next(rest) if row.phase else row for row in rows]


def left_text(evening: Evening) -> str:
    """Say by how many stops the frames of an evening could have been brighter."""
    return DASH if evening.left_stops is None else stops_text(evening.left_stops)


def lost_text(evening: Evening) -> str:
    """Say in how many frames of an evening a channel was lost."""
    if not evening.placed:
        return DASH
    return f"{evening.lost} of {evening.placed}" if evening.lost else "none"


def filter_texts(evening: Evening) -> tuple[str, ...]:
    """Say what each filter measured, by its nearest marking."""
    return tuple(
        f"{round(marked, 1):g} stops: {stops:.2f}" for marked, stops in evening.filter_stops.items()
    )


def detail_table(rows: Sequence[ExposureRow]) -> Table | None:
    """Return the rows by all headings together; None without any."""
    shown = [row for row in rows if _headings(row) > 1]
    title = "By body, lens, time and filter together"
    return (
        Table("detail", "Detail", title, "", _PLACED, tuple(_placement(shown))) if shown else None
    )


def _placement(rows: Sequence[ExposureRow]) -> list[tuple[str, ...]]:
    cells: list[tuple[str, ...]] = []
    for row in rows:
        channels = (row.lost_by_channel or {}).items()
        which = listed([f"{COLOURS.get(colour, colour)} {count}" for colour, count in channels])
        cells.append(
            (
                row_label(row),
                str(row.frames),
                DASH if row.spare is None else stops_text(row.spare.median),
                _spread_text(row.spare),
                f"{row.lost} ({whole_share_text(row.lost_share)})" if row.lost else "none",
                which or DASH,
            )
        )
    return cells
