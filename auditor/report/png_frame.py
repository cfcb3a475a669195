"""One frame's whole sheet as a PNG: pictures, tones, findings, every figure with its source."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from auditor.model.audit import Audit, FrameResult
from auditor.model.findings import FindingKind
from auditor.model.measurement import FrameMeasurement
from auditor.model.settings import Settings
from auditor.report import words
from auditor.report.page_frames import frame_sheets
from auditor.report.page_pictures import FramePictures, frame_pictures
from auditor.report.page_records import FrameSheet
from auditor.report.png_canvas import Canvas, line_height
from auditor.report.png_marks import draw_picture, opened, with_losses
from auditor.report.png_tables import Column, draw_channel_table, draw_facts
from auditor.report.png_tones import draw_tones
from auditor.report.png_words import draw_findings, draw_notes
from auditor.report.style import SOFT_INK

WIDTH, MARGIN, GAP = 1600, 36, 28
TALLEST = 3600
"""Room to draw in; the sheet is cut where its content ends."""

PICTURE_HEIGHT = 330
CHARTS = Column(MARGIN, 1000)
TEXTS = Column(CHARTS.right + GAP, WIDTH - MARGIN - CHARTS.right - GAP)
WHOLE = Column(MARGIN, WIDTH - 2 * MARGIN)


@dataclass(frozen=True, slots=True, eq=False)
class _Held:
    """A gallery of the one frame."""

    measured: FrameMeasurement

    def measurement(self, frame_id: str) -> FrameMeasurement:
        """Return the one measurement."""
        return self.measured


def build_frame_sheet(
    frame: FrameResult, measured: FrameMeasurement, kinds: Mapping[str, FindingKind]
) -> bytes:
    """Draw one measured frame.

    Parameters
    ----------
    frame : FrameResult
        Measured and judged.
    measured : FrameMeasurement
        Its pictures and maps.
    kinds : mapping of str to FindingKind
        The registry of findings, by code.

    Returns
    -------
    bytes
        PNG, 1600 pixels wide.
    """
    canvas, bottom = draw_frame_sheet(frame, measured, kinds)
    return canvas.to_png(bottom)


def draw_frame_sheet(
    frame: FrameResult, measured: FrameMeasurement, kinds: Mapping[str, FindingKind]
) -> tuple[Canvas, int]:
    """Draw like :func:`build_frame_sheet`; return the canvas and where its content ends."""
    alone = Audit("", "", "", Settings(), (), (frame,))
    sheet = frame_sheets(alone, kinds)[0]
    canvas = Canvas(WIDTH, TALLEST)
    top = _draw_head(canvas, sheet, frame)
    pictures = frame_pictures(frame, _Held(measured))
    if pictures is not None:
        top = _draw_pictures(canvas, sheet, frame, pictures, top)
    left = draw_tones(canvas, CHARTS, frame, top)
    left = draw_channel_table(canvas, CHARTS, sheet, frame, left + GAP)
    right = draw_findings(canvas, TEXTS, sheet, top)
    right = draw_facts(canvas, TEXTS, sheet, right + GAP)
    bottom = draw_notes(canvas, WHOLE, sheet, max(left, right) + GAP)
    return canvas, min(bottom + MARGIN, TALLEST)


def _draw_head(canvas: Canvas, sheet: FrameSheet, frame: FrameResult) -> int:
    wide = WIDTH - 2 * MARGIN
    canvas.text(MARGIN, MARGIN, wide - 420, sheet.name, size=24, bold=True, keep_end=True)
    canvas.text(
        WIDTH - MARGIN - 400, MARGIN, 400, sheet.verdict_text, size=24, bold=True, align="right"
    )
    when = words.moment(frame.captured_at)
    day = words.day(when) if when else ""
    parts = (day, sheet.taken_text, sheet.exposure_text, sheet.camera, sheet.lens)
    about = " · ".join(part for part in parts if part and part != "–")
    top = MARGIN + line_height(24) + 4
    canvas.text(MARGIN, top, wide, about, size=14)
    top += line_height(14)
    canvas.text(MARGIN, top, wide, sheet.place, size=12, colour=SOFT_INK)
    return top + line_height(12) + 14


def _draw_pictures(
    canvas: Canvas, sheet: FrameSheet, frame: FrameResult, pictures: FramePictures, top: int
) -> int:
    width = (WIDTH - 2 * MARGIN - 2 * GAP) // 3
    thumb = opened(pictures.thumb, width, PICTURE_HEIGHT)
    losses = None if thumb is None else with_losses(thumb, pictures.blown, pictures.blocked)
    preview = opened(pictures.preview, width, PICTURE_HEIGHT)
    shown = "" if frame.preview is None else words.plain(frame.preview.text)
    for place, (picture, title, told) in enumerate(
        (
            (thumb, "What the sensor recorded, plainly rendered", ""),
            (losses, "Where tones are lost", _lost_text(sheet)),
            (preview, "What the camera's preview showed", shown or "The file holds no preview."),
        )
    ):
        left = MARGIN + place * (width + GAP)
        draw_picture(canvas, picture, (left, top, width, PICTURE_HEIGHT))
        below = top + PICTURE_HEIGHT + 6
        canvas.text(left, below, width, title, size=13, bold=True)
        below += line_height(13)
        canvas.paragraph(left, below, width, told, size=12, colour=SOFT_INK, most_lines=2)
    return top + PICTURE_HEIGHT + 6 + line_height(13) + 2 * line_height(12) + 18


def _lost_text(sheet: FrameSheet) -> str:
    return (
        f"Hatched: blown, {sheet.blown_text} of the frame. "
        f"Stippled: under the noise floor, {sheet.blocked_text}."
    )
