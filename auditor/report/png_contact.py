"""The contact sheet: every frame small, with its range bar, verdict and exposure."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from auditor.model.arrays import U8
from auditor.model.audit import Audit, FrameResult
from auditor.model.gallery import Gallery
from auditor.report import words
from auditor.report.page_frames import frame_sheets
from auditor.report.page_pictures import frame_pictures
from auditor.report.page_records import FrameSheet, ToneBar
from auditor.report.png_canvas import Canvas, line_height
from auditor.report.png_marks import (
    LONGEST_CAP,
    StopsAxis,
    draw_bar,
    draw_picture,
    draw_wedge,
    opened,
)
from auditor.report.style import CARD, LINE, SOFT_INK

COLUMNS, ROWS = 6, 7
PER_PAGE = COLUMNS * ROWS
MARGIN, GAP = 32, 18
CELL_WIDTH, PICTURE_HEIGHT, BAR_HEIGHT = 276, 186, 14
PADDING = 10
CAPS = LONGEST_CAP + 2
"""Room beside a bar for its caps."""
INNER_WIDTH = CELL_WIDTH - 2 * PADDING
CELL_HEIGHT = PADDING + PICTURE_HEIGHT + 8 + BAR_HEIGHT + 6 + 20 + 2 * 18 + PADDING
WIDTH = 2 * MARGIN + COLUMNS * CELL_WIDTH + (COLUMNS - 1) * GAP
HEAD_HEIGHT = 112

SAMPLE = ToneBar(floor_stops=12.0, dark_stops=9.0, bright_stops=2.0, median_stops=5.0)
"""The bar of the legend."""


@dataclass(frozen=True, slots=True)
class PlannedPage:
    """One page that is still to be drawn, with what its head says of the whole shoot.

    Parameters
    ----------
    depth : float
        Of the shoot's stops axis.
    """

    name: str
    title: str
    counts: str
    inputs: str
    depth: float
    frames: tuple[FrameSheet, ...]


def page_name(number: int) -> str:
    """Return the file's name of a page, from 1: contact-sheet.png, contact-sheet-2.png."""
    return "contact-sheet.png" if number == 1 else f"contact-sheet-{number}.png"


def build_contact_sheet(audit: Audit, gallery: Gallery) -> list[tuple[str, bytes]]:
    """Draw all frames in order of time, 42 a page.

    Returns
    -------
    list of (name, PNG bytes)
        At least one page.
    """
    return [
        (page.name, draw_page(page, thumbs_of(audit, gallery, page)))
        for page in planned_pages(audit)
    ]


def planned_pages(audit: Audit) -> Iterator[PlannedPage]:
    """Yield the pages without drawing them."""
    sheets = frame_sheets(audit, {})
    pages = -(-max(1, len(sheets)) // PER_PAGE)
    told = ", ".join(_counted(count, text.lower()) for text, count in _verdicts(audit))
    frames = words.counted(len(audit.frames), "frame")
    for number in range(1, pages + 1):
        yield PlannedPage(
            name=page_name(number),
            title="Contact sheet" + (f", page {number} of {pages}" if pages > 1 else ""),
            counts=words.sentence(f"{frames}: {told}" if told else frames),
            inputs=words.plain(", ".join(audit.inputs)),
            depth=axis_depth(audit.frames),
            frames=sheets[(number - 1) * PER_PAGE : number * PER_PAGE],
        )


def thumbs_of(audit: Audit, gallery: Gallery, page: PlannedPage) -> dict[str, bytes]:
    """Fetch the pictures of a page's frames, as they are stored, by the frame's id."""
    wanted = {sheet.id for sheet in page.frames}
    pictures = {
        frame.id: frame_pictures(frame, gallery) for frame in audit.frames if frame.id in wanted
    }
    return {name: found.thumb for name, found in pictures.items() if found is not None}


def draw_page(page: PlannedPage, thumbs: Mapping[str, bytes]) -> bytes:
    """Draw one page as PNG."""
    return draw_contact_page(page, thumbs).to_png()


def draw_contact_page(page: PlannedPage, thumbs: Mapping[str, bytes]) -> Canvas:
    """Draw one page."""
    rows = -(-max(1, len(page.frames)) // COLUMNS)
    height = MARGIN + HEAD_HEIGHT + rows * (CELL_HEIGHT + GAP) - GAP + MARGIN
    canvas = Canvas(WIDTH, height)
    _draw_head(canvas, page)
    for place, sheet in enumerate(page.frames):
        left = MARGIN + (place % COLUMNS) * (CELL_WIDTH + GAP)
        top = MARGIN + HEAD_HEIGHT + (place // COLUMNS) * (CELL_HEIGHT + GAP)
        canvas.fill(left, top, left + CELL_WIDTH, top + CELL_HEIGHT, CARD)
        canvas.frame(left, top, left + CELL_WIDTH, top + CELL_HEIGHT, LINE)
        stored = thumbs.get(sheet.id)
        thumb = None if stored is None else opened(stored, INNER_WIDTH, PICTURE_HEIGHT)
        _draw_cell(canvas, sheet, thumb, (left + PADDING, top + PADDING), page.depth)
    return canvas


def axis_depth(frames: Sequence[FrameResult]) -> float:
    """Return the depth of the shoot's stops axis: its deepest noise floor, in whole stops."""
    floors = [
        channel.dynamic_range_stops
        for frame in frames
        for channel in frame.channels
        if channel.dynamic_range_stops is not None
    ]
    return float(min(18, max(8, int(max(floors, default=12.0) + 0.999))))


def _draw_head(canvas: Canvas, page: PlannedPage) -> None:
    wide = WIDTH - 2 * MARGIN - 560
    canvas.text(MARGIN, MARGIN, wide, page.title, size=24, bold=True)
    top = MARGIN + line_height(24) + 2
    canvas.text(MARGIN, top, wide, page.counts, size=14)
    canvas.text(MARGIN, top + line_height(14), wide, page.inputs, size=12, colour=SOFT_INK)
    _draw_legend(canvas, page.depth)


def _verdicts(audit: Audit) -> list[tuple[str, int]]:
    counts = [
        (text, sum(frame.verdict == verdict for frame in audit.frames))
        for verdict, text in words.VERDICTS.items()
    ]
    return [(text, count) for text, count in counts if count]


def _counted(count: int, verdict: str) -> str:
    return words.counted(count, verdict, verdict + "s" * verdict.endswith("frame"))


def _draw_legend(canvas: Canvas, depth: float) -> None:
    """Explain the bar once: wedge, slice, median, hatch and stipple."""
    axis = StopsAxis(WIDTH - MARGIN - 520, WIDTH - MARGIN - CAPS - 3, depth)
    top = MARGIN + 2
    draw_wedge(canvas, axis, top, 12)
    sample = replace(SAMPLE, floor_stops=depth, blown=0.01, blocked=0.01)
    draw_bar(canvas, axis, sample, top + 18, BAR_HEIGHT)
    below = top + 18 + BAR_HEIGHT + 6
    half = (axis.right - axis.left) // 2
    canvas.text(axis.left, below, half - 10, f"noise floor, {depth:g} stops down", size=12)
    canvas.text(axis.left + half, below, half, "saturation", size=12, align="right")
    told = "slice: tones; notch: median; hatch: blown; stipple: blocked up"
    below += line_height(12)
    canvas.text(axis.left, below, 2 * half, told, size=12, colour=SOFT_INK, align="middle")


def _draw_cell(
    canvas: Canvas, sheet: FrameSheet, thumb: U8 | None, corner: tuple[int, int], depth: float
) -> None:
    (left, top), width = corner, INNER_WIDTH
    draw_picture(canvas, thumb, (left, top, width, PICTURE_HEIGHT))
    if sheet.status == "unreadable":
        canvas.paragraph(left + 10, top + 60, width - 20, sheet.error_text, most_lines=4)
    top += PICTURE_HEIGHT + 8
    if sheet.channels:
        axis = StopsAxis(left + CAPS, left + width - CAPS - 3, depth)
        draw_bar(canvas, axis, sheet.bar, top, BAR_HEIGHT)
    top += BAR_HEIGHT + 6
    mark = "keeper" if sheet.is_keeper else ""
    room = width - 64 if mark else width
    canvas.text(left, top, room, sheet.name, size=13, bold=True, keep_end=True)
    canvas.text(left + width - 60, top, 60, mark, size=12, align="right")
    canvas.text(left, top + 20, width, _verdict_line(sheet), size=12)
    about = " · ".join(part for part in (sheet.taken_text, sheet.exposure_text) if part != "–")
    canvas.text(left, top + 38, width, about, size=12, colour=SOFT_INK)


def _verdict_line(sheet: FrameSheet) -> str:
    """Say the verdict and the one figure behind it."""
    if sheet.verdict == "held" and sheet.bar.blown:
        return f"{sheet.verdict_text}, {sheet.blown_text} blown"
    if sheet.verdict == "held" and sheet.headroom_stops is not None:
        return f"{sheet.verdict_text}, {sheet.spare_text} to spare"
    lost = [
        f"{text} {word}"
        for verdicts, text, word in (
            (("blown", "both"), sheet.blown_text, "blown"),
            (("blocked", "both"), sheet.blocked_text, "blocked"),
        )
        if sheet.verdict in verdicts
    ]
    return ", ".join(lost) or sheet.verdict_text
