"""``frames.csv``: one row a frame, one column a measure, for tables and data frames.

RFC 4180, UTF-8 without a byte order mark (so that the first column's name is read as it is).
Texts stand in quotes, numbers do not. A text that a spreadsheet would take for a formula gets
an apostrophe in front; a real negative number stays a number. Hidden characters are written
out, so that every frame is one line. Unmeasured is an empty cell.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import fields, replace
from functools import partial
from typing import Any

from auditor.model.audit import Audit
from auditor.model.outcome import Engine, in_order
from auditor.model.text import visible
from auditor.report.tables import Cell, Row, column_names, tables

PLANES = ("R", "G", "G1", "G2", "B", "L")

LAST = ("findings", "companions", "also_at", "differing_copies", "notes")

LONGEST_CELL = 32_000
"""Characters; common spreadsheets hold 32,767 in a cell."""

AT_A_TIME = 100
"""Frames that are made into rows together."""

_FORMULA = tuple("=+-@|%＝＋－＠")
"""Characters that start a formula or a command, in their full-width forms too."""


def csv_parts(audit: Audit, engine: Engine | None = None) -> Iterator[bytes]:
    """Yield one row a frame, in the audit's order, some frames at a time.

    The columns are those of the table "frames" (:mod:`auditor.report.tables`), then those of the
    channels with the plane first: ``R_headroom_stops``. Only planes that some frame has are there.

    Parameters
    ----------
    audit : Audit
    engine : Engine, optional
        Writes rows; without one that is done here.
    """
    held = {channel.name for frame in audit.frames for channel in frame.channels}
    figures = [name for name in column_names("channels") if name not in ("frame", "name")]
    wide = [(plane, figure) for plane in PLANES if plane in held for figure in figures]
    # long texts last, so that the figures stand side by side
    lasting = [name for name in column_names("frames") if name not in LAST]
    heads = [*lasting, *("_".join(one) for one in wide), *LAST]
    yield _line(map(_quoted, heads))
    lists = [one.name for one in fields(audit) if isinstance(getattr(audit, one.name), tuple)]
    nothing: dict[str, Any] = dict.fromkeys(lists, ())
    bare = replace(audit, **nothing)
    some = [
        partial(_rows, replace(bare, frames=audit.frames[first : first + AT_A_TIME]), lasting, wide)
        for first in range(0, len(audit.frames), AT_A_TIME)
    ]
    yield from in_order(engine, some)


def _rows(audit: Audit, lasting: Sequence[str], wide: Sequence[tuple[str, str]]) -> bytes:
    """Write the rows of all frames: lasting columns, those of the planes, and the last ones."""
    found = tables(audit, ("frames", "channels"))
    channels: dict[str, dict[str, Row]] = {}
    for row in found["channels"]:
        channels.setdefault(str(row["frame"]), {})[str(row["name"])] = row
    lines = []
    for row in found["frames"]:
        planes = channels.get(str(row["id"]), {})
        cells = [*(row[name] for name in lasting),
                 *(planes.get(plane, {}).get(figure) for plane, figure in wide),
                 *(row[name] for name in LAST)]  # fmt: skip
        lines.append(_line(map(_cell, cells)))
    return b"".join(lines)


def _line(cells: Iterable[str]) -> bytes:
    return (",".join(cells) + "\r\n").encode("utf-8")


def safe_text(text: str) -> str:
    """Return text that no spreadsheet takes for a formula, on one line, nothing hidden."""
    shown = visible(text)[:LONGEST_CELL]
    return "'" + shown if shown.lstrip().startswith(_FORMULA) else shown


def _cell(value: Cell) -> str:
    """Write one cell: text made safe and quoted, numbers bare, None empty."""
    if isinstance(value, str):
        return _quoted(safe_text(value))
    if isinstance(value, bool):
        return "true" if value else "false"
    return "" if value is None else str(value)


def _quoted(text: str) -> str:
    return '"' + text.replace('"', '""') + '"'
