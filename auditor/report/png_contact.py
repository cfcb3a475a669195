"""The contact sheet: every frame small, set-up by set-up, with what is lost drawn in. A4 pages."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from auditor.model.arrays import U8
from auditor.model.audit import Audit
from auditor.model.codes import FrameStatus
from auditor.model.numbers import counted
from auditor.model.shoot import MeasurementSource
from auditor.report.frame_records import FrameSheet, ToneBar
from auditor.report.page import build_page
from auditor.report.page_pictures import LostMaps, frame_pictures
from auditor.report.page_records import Page
from auditor.report.png_canvas import A4_HEIGHT, A4_WIDTH, SMALL, TITLE, Canvas, line_height
from auditor.report.png_marks import (
    LONGEST_CAP,
    StopsAxis,
    draw_bar,
    draw_picture,
    draw_wedge,
    opened,
    with_losses,
)
from auditor.report.setup_records import SetupSheet
from auditor.report.style import CARD, INK, LINE, SOFT_INK
from auditor.words import values as words
from auditor.words.page import SHEET_LEGEND

COLUMNS, ROWS = 5, 5
MARGIN, GAP, PADDING = 44, 14, 8
CELL_WIDTH = (A4_WIDTH - 2 * MARGIN - (COLUMNS - 1) * GAP) // COLUMNS
INNER_WIDTH = CELL_WIDTH - 2 * PADDING
PICTURE_HEIGHT, BAR_HEIGHT, MOST_LINES = 188, 16, 3
CAPS = LONGEST_CAP + 2
"""Room beside a bar for its caps."""
HEADING_HEIGHT = line_height(SMALL) + 8
CELL_HEIGHT = PADDING + PICTURE_HEIGHT + BAR_HEIGHT + 14 + (MOST_LINES + 2) * line_height(SMALL) + 4
ROW_HEIGHT = HEADING_HEIGHT + CELL_HEIGHT + GAP
HEAD_HEIGHT = 190
LEGEND_WIDTH = 640
assert 2 * MARGIN + HEAD_HEIGHT + ROWS * ROW_HEIGHT - GAP <= A4_HEIGHT

SAMPLE = ToneBar(floor_stops=12.0, dark_stops=9.0, bright_stops=2.0, median_stops=5.0)
"""The bar of the legend."""


@dataclass(frozen=True, slots=True)
class Heading:
    """The name of a set-up over its frames in one row.

    Parameters
    ----------
    column, columns : int
        Where they begin, and how many they are.
    title, about : str
        ``about`` is left out where there is no room for it.
    """

    column: int
    columns: int
    title: str
    about: str


@dataclass(frozen=True, slots=True)
class SheetRow:
    """One row of frames, of one set-up or of several small ones."""

    headings: tuple[Heading, ...]
    frames: tuple[FrameSheet, ...]


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
    about: tuple[str, ...]
    depth: float
    rows: tuple[SheetRow, ...]

    @property
    def frames(self) -> tuple[FrameSheet, ...]:
        """Every frame of this page."""
        return tuple(frame for row in self.rows for frame in row.frames)


@dataclass(frozen=True, slots=True, eq=False)
class Thumb:
    """A small picture as it is stored, and what is lost in it."""

    jpeg: bytes
    lost: LostMaps


def page_name(number: int) -> str:
    """Return the file's name of a page, from 1: contact-sheet.png, contact-sheet-2.png."""
    return "contact-sheet.png" if number == 1 else f"contact-sheet-{number}.png"


def planned_pages(audit: Audit) -> Iterator[PlannedPage]:
    """Yield the pages without drawing them."""
    page = build_page(audit, {})
    rows = list(_rows(page))
    pages = -(-max(1, len(rows)) // ROWS)
    told = ", ".join(f"{tally.count} {tally.text}" for tally in page.outcomes)
    frames = counted(len(page.frames), "frame")
    for number in range(1, pages + 1):
        yield PlannedPage(
            name=page_name(number),
            title="Contact sheet" + (f", page {number} of {pages}" if pages > 1 else ""),
            about=(
                ", ".join(filter(None, (page.when, page.where))),
                words.sentence(f"{frames}: {told}" if told else frames),
                words.plain(", ".join(audit.inputs)),
            ),
            depth=page.floor_stops,
            rows=tuple(rows[(number - 1) * ROWS : number * ROWS]),
        )


def _rows(page: Page) -> Iterator[SheetRow]:
    """Fill rows: a set-up begins a new one unless all of it has room in the last."""
    groups: list[tuple[str, str, list[FrameSheet]]] = []
    days = {frame.day_text for frame in page.frames if frame.day_text}
    of_setup: dict[int | None, list[FrameSheet]] = {}
    for frame in page.frames:
        of_setup.setdefault(frame.setup, []).append(frame)
    rest = of_setup.pop(None, [])
    for number, frames in of_setup.items():
        setup: SetupSheet = page.setups[(number or 1) - 1]
        day = frames[0].day_text.rpartition(" ")[0] if len(days) > 1 else ""
        groups.append((setup.title, " · ".join(filter(None, (day, setup.short_about))), frames))
    for title, status in (("No set-up", "measured"), ("Not read", "unreadable")):
        frames = [frame for frame in rest if frame.status == status]
        if frames:
            groups.append((title, counted(len(frames), "frame"), frames))
    headings: list[Heading] = []
    row: list[FrameSheet] = []
    for title, about, frames in groups:
        for start in range(0, len(frames), COLUMNS):
            part = frames[start : start + COLUMNS]
            whole = part if start else frames
            if row and len(row) + len(whole) > COLUMNS:
                yield SheetRow(tuple(headings), tuple(row))
                headings, row = [], []
            told = "continued" if start else about
            headings.append(Heading(len(row), len(part), title, told))
            row += part
    if row:
        yield SheetRow(tuple(headings), tuple(row))


def thumbs_of(audit: Audit, measurements: MeasurementSource, page: PlannedPage) -> dict[str, Thumb]:
    """Fetch the pictures of a page's frames, as they are stored, by the frame's id."""
    wanted = {sheet.id for sheet in page.frames}
    pictures = {
        frame.id: frame_pictures(frame, measurements)
        for frame in audit.frames
        if frame.id in wanted
    }
    return {name: Thumb(found.thumb, found.lost) for name, found in pictures.items() if found}


def draw_page(page: PlannedPage, thumbs: Mapping[str, Thumb]) -> bytes:
    """Draw one page as PNG."""
    return draw_contact_page(page, thumbs).to_png()


def draw_contact_page(page: PlannedPage, thumbs: Mapping[str, Thumb]) -> Canvas:
    """Draw one page."""
    canvas = Canvas(A4_WIDTH, 2 * MARGIN + HEAD_HEIGHT + max(1, len(page.rows)) * ROW_HEIGHT - GAP)
    _draw_head(canvas, page)
    for number, row in enumerate(page.rows):
        top = MARGIN + HEAD_HEIGHT + number * ROW_HEIGHT
        for heading in row.headings:
            left, width = _left(heading.column), heading.columns * (CELL_WIDTH + GAP) - GAP
            canvas.rule(left, left + width, top, INK)
            taken = canvas.text(left, top + 4, width, heading.title, size=SMALL, bold=True) + 10
            about = heading.about if heading.columns > 1 else heading.about.rpartition(" · ")[0]
            room = width - taken
            canvas.text(left + taken, top + 4, room, about, size=SMALL, colour=SOFT_INK)
        for column, sheet in enumerate(row.frames):
            thumb = thumbs.get(sheet.id)
            picture = None if thumb is None else opened(thumb.jpeg, INNER_WIDTH, PICTURE_HEIGHT)
            if picture is not None and thumb is not None:
                picture = with_losses(picture, thumb.lost, pale=False)
            corner = (_left(column), top + HEADING_HEIGHT)
            _draw_cell(canvas, sheet, picture, corner, page.depth)
    return canvas


def _left(column: int) -> int:
    return MARGIN + column * (CELL_WIDTH + GAP)


def _draw_head(canvas: Canvas, page: PlannedPage) -> None:
    wide = A4_WIDTH - 2 * MARGIN - LEGEND_WIDTH - 40
    canvas.text(MARGIN, MARGIN, wide, page.title, size=TITLE, bold=True)
    top = MARGIN + line_height(TITLE) + 4
    when, counts, inputs = page.about
    top = canvas.paragraph(MARGIN, top, wide, when, most_lines=2)
    top = canvas.paragraph(MARGIN, top, wide, counts, most_lines=2)
    canvas.text(MARGIN, top, wide, inputs, size=SMALL, colour=SOFT_INK)
    # the marks are explained once: wedge, slice, median, hatch, dots and stipple
    left = A4_WIDTH - MARGIN - LEGEND_WIDTH
    axis = StopsAxis(left + CAPS, A4_WIDTH - MARGIN - CAPS - 3, page.depth)
    top = MARGIN + 4
    draw_wedge(canvas, axis, top, 12)
    sample = replace(SAMPLE, floor_stops=page.depth, blown=0.01, blocked=0.01)
    draw_bar(canvas, axis, sample, top + 20, BAR_HEIGHT)
    below = top + 20 + BAR_HEIGHT + 6
    half = LEGEND_WIDTH // 2
    floor = f"noise floor, {page.depth:g} stops down"
    canvas.text(left, below, half - 10, floor, size=SMALL)
    canvas.text(left + half, below, half, "saturation", size=SMALL, align="right")
    below += line_height(SMALL)
    canvas.paragraph(left, below, LEGEND_WIDTH, SHEET_LEGEND, size=SMALL, colour=SOFT_INK)


def _draw_cell(
    canvas: Canvas, sheet: FrameSheet, picture: U8 | None, corner: tuple[int, int], depth: float
) -> None:
    left, top = corner
    canvas.fill(left, top, left + CELL_WIDTH, top + CELL_HEIGHT, CARD)
    canvas.frame(left, top, left + CELL_WIDTH, top + CELL_HEIGHT, LINE)
    left, top, width = left + PADDING, top + PADDING, INNER_WIDTH
    draw_picture(canvas, picture, (left, top, width, PICTURE_HEIGHT))
    read = sheet.status != FrameStatus.UNREADABLE
    if not read:
        canvas.paragraph(left + 8, top + 8, width - 16, sheet.error_text, size=SMALL, most_lines=6)
    top += PICTURE_HEIGHT + 6
    if sheet.channels:
        draw_bar(
            canvas,
            StopsAxis(left + CAPS, left + width - CAPS - 3, depth),
            sheet.bar,
            top,
            BAR_HEIGHT,
        )
    top += BAR_HEIGHT + 6
    line = line_height(SMALL)
    clock = canvas.text(left + width - 90, top, 90, sheet.taken_text, size=SMALL, align="right")
    name = f"● {sheet.name}" if sheet.is_keeper else sheet.name
    canvas.text(left, top, width - clock - 10, name, size=SMALL, bold=True, keep_end=True)
    canvas.text(left, top + line, width, sheet.exposure_text, size=SMALL, colour=SOFT_INK)
    told = sheet.verdict_line if read else sheet.verdict_text
    canvas.paragraph(left, top + 2 * line, width, told, size=SMALL, most_lines=MOST_LINES)
