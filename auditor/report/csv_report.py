"""``frames.csv``: one row a frame, one column a measure, for tables and data frames.

RFC 4180, UTF-8 without a byte order mark (so that the first column's name is read as it is).
Texts stand in quotes, numbers do not. A text that a spreadsheet would take for a formula gets
an apostrophe in front; a real negative number stays a number. Hidden characters are written
out, so that every frame is one line. Unmeasured is an empty cell.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from operator import attrgetter

from auditor.model.audit import Audit, ChannelFigures, FrameResult
from auditor.model.text import visible
from auditor.report.plain_records import rounded

Cell = str | int | float | bool | None

PLANES = ("R", "G", "G1", "G2", "B", "L")

LONGEST_CELL = 32_000
"""Characters; common spreadsheets hold 32,767 in a cell."""

_FORMULA = tuple("=+-@|%＝＋－＠")
"""Characters that start a formula or a command, in their full-width forms too."""

_FIGURES = (
    "black_dn", "black_source", "saturation_dn", "saturation_source", "read_noise_dn",
    "gain_dn_per_e", "noise_floor_dn", "blown_fraction", "blocked_fraction", "zero_fraction",
    "headroom_stops", "shadow_room_stops", "median_stops", "mean_stops", "dynamic_range_stops",
)  # fmt: skip
"""Fields of one channel, each a column for each plane that the audit holds."""

_FIELDS = (
    "file", "id", "input", "status", "verdict", "error.code", "error.kind", "error.message",
    "captured_at", "camera.make", "camera.model", "camera.serial", "lens.model", "lens.focal_mm",
    "lens.focal_35mm", "orientation", "exposure.time_s", "exposure.f_number", "exposure.iso",
    "exposure.bias_ev", "exposure.ev100", "exposure.program", "exposure.metering",
    "exposure.flash", "position.latitude_deg", "position.longitude_deg", "temperature_c",
    "size.width", "size.height", "size.bit_depth", "layout", "blown_fraction",
    "blown_all_fraction", "blocked_fraction", "largest_blown_area.share",
    "largest_blown_area.where", "largest_blocked_area.share", "largest_blocked_area.where",
    "tone_range_stops", "headroom_stops", "preview.blown_fraction", "preview.blocked_fraction",
    "preview.early_stops", "hot_pixels.count", "hot_pixels.per_megapixel", "sharpness",
    "lens_shading.corner_stops",
)  # fmt: skip
"""Fields of one frame; a dot leads into a record, whose absence leaves the cell empty."""


def build_csv(audit: Audit) -> bytes:
    """Write one row a frame, in the audit's order.

    Returns
    -------
    bytes
        Columns of a channel are named plane first: ``R_headroom_stops``. Only planes that some
        frame has are there.
    """
    columns = _columns(audit)
    head = ",".join(_quoted(name) for name in columns)
    rows = [
        ",".join(_cell(read(frame), name) for name, read in columns.items())
        for frame in audit.frames
    ]
    return ("\r\n".join([head, *rows]) + "\r\n").encode("utf-8")


def safe_text(text: str) -> str:
    """Return text that no spreadsheet takes for a formula, on one line, nothing hidden."""
    shown = visible(text)[:LONGEST_CELL]
    return "'" + shown if shown.lstrip().startswith(_FORMULA) else shown


def _columns(audit: Audit) -> Mapping[str, Callable[[FrameResult], Cell]]:
    columns: dict[str, Callable[[FrameResult], Cell]] = {
        field.replace(".", "_"): _field(field) for field in _FIELDS
    }
    held = {channel.name for frame in audit.frames for channel in frame.channels}
    for plane in filter(held.__contains__, PLANES):
        for figure in _FIGURES:
            columns[f"{plane}_{figure}"] = _figure(plane, figure)
    return {
        **columns,
        "findings": lambda frame: _joined(finding.code for finding in frame.findings),
        "companions": lambda frame: _joined(frame.companions),
        "also_at": lambda frame: _joined(frame.also_at),
        "differing_copies": lambda frame: _joined(copy.id for copy in frame.differing_copies),
        "notes": lambda frame: _joined(frame.notes),
    }


def _field(path: str) -> Callable[[FrameResult], Cell]:
    record, _, name = path.rpartition(".")
    if not record:
        return attrgetter(name)

    def read(frame: FrameResult) -> Cell:
        found: Cell = getattr(getattr(frame, record), name, None)
        return found

    return read


def _figure(plane: str, figure: str) -> Callable[[FrameResult], Cell]:
    def read(frame: FrameResult) -> Cell:
        channel = _channel(frame, plane)
        found: Cell = None if channel is None else getattr(channel, figure)
        return found

    return read


def _channel(frame: FrameResult, plane: str) -> ChannelFigures | None:
    return next((channel for channel in frame.channels if channel.name == plane), None)


def _joined(texts: Iterable[str]) -> str:
    return "; ".join(texts)


def _cell(value: Cell, name: str) -> str:
    """Write one cell: text made safe and quoted, numbers rounded and bare, None empty."""
    if isinstance(value, str):
        return _quoted(safe_text(value))
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    number = value if isinstance(value, int) else rounded(float(value), name)
    return "" if number is None else str(number)


def _quoted(text: str) -> str:
    return '"' + text.replace('"', '""') + '"'
