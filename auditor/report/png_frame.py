"""One frame's whole sheet as a PNG: pictures, tones, findings, every figure with its source."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from auditor.model.audit import Audit, FrameResult, SkyBalance
from auditor.model.findings import FindingKind
from auditor.model.measurement import FrameMeasurement
from auditor.model.settings import Settings
from auditor.report.frame_records import FrameSheet
from auditor.report.page_frames import frame_sheets
from auditor.report.page_pictures import FramePictures, frame_pictures
from auditor.report.png_canvas import (
    A4_HEIGHT,
    A4_WIDTH,
    SMALL,
    TITLE,
    Canvas,
    line_height,
)
from auditor.report.png_marks import draw_picture, opened, with_line, with_losses
from auditor.report.png_tables import (
    Column,
    channel_figures,
    draw_channel_table,
    draw_facts,
    draw_findings,
    draw_notes,
    halves,
    noted,
    source_lines,
)
from auditor.report.png_tones import draw_tones
from auditor.report.style import SOFT_INK
from auditor.words import values as words
from auditor.words.page import picture_legends

MARGIN, GAP = 40, 26
TALLEST = 4 * A4_HEIGHT
"""Room to draw in; the sheet is cut where its content ends."""

PICTURE_HEIGHT = 336
WHOLE = Column(MARGIN, A4_WIDTH - 2 * MARGIN)
CHARTS = Column(MARGIN, 1040)
TEXTS = Column(CHARTS.right + GAP, WHOLE.right - CHARTS.right - GAP)


@dataclass(frozen=True, slots=True, eq=False)
class _Held:
    """A source of the one frame."""

    measured: FrameMeasurement

    def measurement(self, frame_id: str) -> FrameMeasurement:
        """Return the one measurement."""
        return self.measured


def build_frame_sheet(
    frame: FrameResult,
    measured: FrameMeasurement,
    kinds: Mapping[str, FindingKind],
    sky: SkyBalance | None = None,
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
    sky : SkyBalance, optional
        Of this frame, where the shoot is known: the line where its sky ends is drawn.

    Returns
    -------
    bytes
        PNG, as wide as A4 at :data:`auditor.report.png_canvas.DOTS_PER_INCH`.
    """
    canvas, bottom = draw_frame_sheet(frame, measured, kinds, sky)
    return canvas.to_png(bottom)


def draw_frame_sheet(
    frame: FrameResult,
    measured: FrameMeasurement,
    kinds: Mapping[str, FindingKind],
    sky: SkyBalance | None = None,
) -> tuple[Canvas, int]:
    """Draw like :func:`build_frame_sheet`; return the canvas and where its content ends."""
    alone = Audit("", "", "", Settings(), (), (frame,))
    sheet = frame_sheets(alone, kinds)[0]
    canvas = Canvas(A4_WIDTH, TALLEST)
    taken = canvas.text(
        WHOLE.right - 460, MARGIN, 460, sheet.verdict_text, size=TITLE, bold=True, align="right"
    )
    room = WHOLE.width - taken - GAP
    canvas.text(MARGIN, MARGIN, room, sheet.name, size=TITLE, bold=True, keep_end=True)
    when = words.moment(frame.captured_at)
    day = words.day(when) if when else ""
    parts = (day, sheet.taken_text, sheet.exposure_text, sheet.camera, sheet.lens)
    about = " · ".join(part for part in parts if part and part != "–")
    top = canvas.paragraph(MARGIN, MARGIN + line_height(TITLE) + 4, WHOLE.width, about)
    canvas.text(MARGIN, top, WHOLE.width, sheet.place, size=SMALL, colour=SOFT_INK)
    top += line_height(SMALL) + 12
    pictures = frame_pictures(frame, _Held(measured))
    if pictures is not None:
        top = _draw_pictures(canvas, sheet, frame, pictures, top, sky=sky)
    left = draw_tones(canvas, CHARTS, sheet, top)
    left = draw_findings(canvas, halves(CHARTS, GAP), sheet, left + GAP)
    figures = channel_figures(sheet, frame)
    left = draw_channel_table(canvas, CHARTS, figures, left + GAP)
    right = draw_facts(canvas, TEXTS, sheet, top)
    ends = {CHARTS: left, TEXTS: right}
    shorter = min(ends, key=lambda column: ends[column])
    notes = (*source_lines(figures), *noted(sheet))
    ends[shorter] = draw_notes(canvas, shorter, notes, ends[shorter] + GAP)
    return canvas, min(max(ends.values()) + MARGIN, TALLEST)


def _draw_pictures(
    canvas: Canvas,
    sheet: FrameSheet,
    frame: FrameResult,
    pictures: FramePictures,
    top: int,
    *,
    sky: SkyBalance | None,
) -> int:
    width = (WHOLE.width - 2 * GAP) // 3
    thumb = opened(pictures.thumb, width, PICTURE_HEIGHT)
    losses = None if thumb is None else with_losses(thumb, pictures.lost)
    ends = None if sky is None else sky.horizon_ends
    if thumb is not None and ends is not None:
        thumb = with_line(thumb, ends)
    preview = opened(pictures.preview, width, PICTURE_HEIGHT)
    shown = "" if frame.preview is None else words.plain(frame.preview.text)
    recorded, lost, shown = picture_legends(
        sheet.blown_text, sheet.blocked_text, shown, horizon=thumb is not None and ends is not None
    )
    bottom = top
    for place, (picture, title, told) in enumerate(
        (
            (thumb, "What the sensor recorded", recorded),
            (losses, "Where tones are lost", lost),
            (preview, "What the preview showed", shown),
        )
    ):
        left = MARGIN + place * (width + GAP)
        draw_picture(canvas, picture, (left, top, width, PICTURE_HEIGHT))
        below = top + PICTURE_HEIGHT + 6
        canvas.text(left, below, width, title, size=SMALL, bold=True)
        below += line_height(SMALL)
        below = canvas.paragraph(left, below, width, told, size=SMALL, colour=SOFT_INK)
        bottom = max(bottom, below)
    return bottom + 16
