"""Findings and notes on a sheet."""

from __future__ import annotations

from collections.abc import Sequence

from auditor.report.frame_records import FindingLine, FrameSheet
from auditor.report.png_canvas import BODY, HEAD, Canvas, line_height
from auditor.report.png_tables import Column
from auditor.report.style import SOFT_INK

MOST_FINDINGS, MOST_NOTES = 8, 12
"""More are counted: the page tells them."""


def draw_findings(
    canvas: Canvas, columns: tuple[Column, Column], sheet: FrameSheet, top: int
) -> int:
    """Write each finding with what to do next time and its caution; return the y below.

    Two columns are filled side by side, each finding into the shorter one.
    """
    canvas.text(columns[0].left, top, columns[0].width, "Findings", size=HEAD, bold=True)
    top += line_height(HEAD) + 4
    if not sheet.findings:
        return canvas.paragraph(columns[0].left, top, columns[0].width, "None.")
    ends = dict.fromkeys(columns, top)
    for finding in sheet.findings[:MOST_FINDINGS]:
        column = min(columns, key=lambda column: ends[column])
        ends[column] = _draw_finding(canvas, column, finding, ends[column]) + 10
    more = len(sheet.findings) - MOST_FINDINGS
    told = f"and {more} more" if more > 0 else ""
    return canvas.paragraph(columns[0].left, max(ends.values()), columns[0].width, told)


def _draw_finding(canvas: Canvas, column: Column, finding: FindingLine, top: int) -> int:
    left, width = column.left, column.width
    taken = canvas.text(left, top, width, finding.title, bold=True) + 12
    canvas.text(left + taken, top, width - taken, finding.severity_text, colour=SOFT_INK)
    top = canvas.paragraph(left, top + line_height(BODY), width, finding.text)
    if finding.next_time:
        told = f"Next time: {finding.next_time}"
        top = canvas.paragraph(left, top, width, told, colour=SOFT_INK)
    if finding.caution:
        told = f"Caution: {finding.caution}"
        top = canvas.paragraph(left, top, width, told)
    return top


def noted(sheet: FrameSheet) -> list[str]:
    """Return the notes of the frame, and each of its planes' once."""
    planes: dict[str, list[str]] = {}
    for channel in sheet.channels:
        for note in channel.notes:
            planes.setdefault(note, []).append(channel.name)
    notes = list(sheet.notes)
    for note, names in planes.items():
        both = {"G1", "G2"} <= set(names)  # told as one
        named = ("G" if both and name in ("G1", "G2") else name for name in names)
        notes.append(f"{', '.join(dict.fromkeys(named))}: {note}")
    return notes


def draw_notes(canvas: Canvas, column: Column, notes: Sequence[str], top: int) -> int:
    """Write notes, the first of many; return the y below."""
    if not notes:
        return top
    canvas.text(column.left, top, column.width, "Notes", size=HEAD, bold=True)
    top += line_height(HEAD) + 2
    for note in notes[:MOST_NOTES]:
        top = canvas.paragraph(column.left, top, column.width, note) + 4
    more = len(notes) - MOST_NOTES
    told = f"and {more} more" if more > 0 else ""
    return canvas.paragraph(column.left, top, column.width, told)
