"""Findings and notes on a sheet."""

from __future__ import annotations

from auditor.report.page_records import FindingLine, FrameSheet
from auditor.report.png_canvas import Canvas, line_height
from auditor.report.png_tables import Column
from auditor.report.style import SOFT_INK

MOST_FINDINGS, MOST_NOTES = 8, 12


def draw_findings(canvas: Canvas, column: Column, sheet: FrameSheet, top: int) -> int:
    """Write each finding with what to do next time and its caution; return the y below."""
    left, width = column.left, column.width
    canvas.text(left, top, width, "Findings", size=15, bold=True)
    top += line_height(15) + 4
    if not sheet.findings:
        return canvas.paragraph(left, top, width, "None.")
    for finding in sheet.findings[:MOST_FINDINGS]:
        top = _draw_finding(canvas, column, finding, top) + 10
    more = len(sheet.findings) - MOST_FINDINGS
    return canvas.paragraph(left, top, width, f"and {more} more" if more > 0 else "")


def _draw_finding(canvas: Canvas, column: Column, finding: FindingLine, top: int) -> int:
    left, width = column.left, column.width
    taken = canvas.text(left, top, width - 120, finding.title, bold=True)
    rest = width - taken - 8
    canvas.text(left + taken + 8, top, rest, finding.severity_text, colour=SOFT_INK)
    top = canvas.paragraph(left, top + line_height(13), width, finding.text, most_lines=3)
    if finding.next_time:
        told = f"Next time: {finding.next_time}"
        top = canvas.paragraph(left, top, width, told, size=12, colour=SOFT_INK, most_lines=4)
    if finding.caution:
        told = f"Caution: {finding.caution}"
        top = canvas.paragraph(left, top, width, told, size=12, most_lines=6)
    return top


def draw_notes(canvas: Canvas, column: Column, sheet: FrameSheet, top: int) -> int:
    """Write the notes of the frame, and each of its planes' once; return the y below."""
    planes: dict[str, list[str]] = {}
    for channel in sheet.channels:
        for note in channel.notes:
            planes.setdefault(note, []).append(channel.name)
    notes = [*sheet.notes, *(f"{', '.join(names)}: {note}" for note, names in planes.items())]
    if not notes:
        return top
    canvas.text(column.left, top, column.width, "Notes", size=15, bold=True)
    top += line_height(15) + 2
    for note in notes[:MOST_NOTES]:
        top = canvas.paragraph(column.left, top, column.width, note, size=12, most_lines=2)
    more = len(notes) - MOST_NOTES
    told = f"and {more} more" if more > 0 else ""
    return canvas.paragraph(column.left, top, column.width, told, size=12)
