"""``answer.pdf``: one page of A4 that answers what an evening came to and what to do next time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from auditor.model.audit import Audit
from auditor.model.shoot import MeasurementSource
from auditor.model.text import listed
from auditor.report.card_sheet import MM_PER_INCH, CardSheet, paper
from auditor.report.frame_names import short_names, with_short_names
from auditor.report.page_pictures import frame_pictures
from auditor.report.page_records import Page
from auditor.report.png_canvas import drawable, line_height, wrapped
from auditor.report.png_marks import opened
from auditor.report.style import INK, LINE, SOFT_INK, TRACK, Colour, hexed
from auditor.words import values as words
from auditor.words.light import forecast_of
from auditor.words.next_time import next_times
from auditor.words.page import NOTHING_LOST, NOTHING_TO_DO, found_lines, more_in_report

A4_MM = (210.0, 297.0)
MARGIN_MM, GAP_MM = 15.0, 7.0
WIDTH_MM = A4_MM[0] - 2 * MARGIN_MM
HALF_MM = (WIDTH_MM - GAP_MM) / 2
FOOT_MM = 276.0
"""Where the cautions begin."""

TITLE_PT, HEAD_PT, TEXT_PT, SMALL_PT = 17.0, 11.0, 8.5, 7.2
POINTS_PER_INCH = 72.0
BOLD_IS_WIDER = 1.16
PICTURE_MM, PICTURE_PX = 38.0, 900
"""Height of a loss's picture, and the most pixels across that it is laid down with."""

LEAST_RING_MM = 3.0
MOST_LESSONS = 5
MOST_LINES = 4
"""Of one entry; more than our sentences take, for texts from files may be of any length."""


def build_answer(audit: Audit, page: Page, measurements: MeasurementSource) -> bytes:
    """Draw the page of answers as PDF, the same for the same audit.

    Parameters
    ----------
    audit : Audit
    page : Page
        The audit in words.
    measurements : MeasurementSource
        Asked for the frames with the largest losses only.
    """
    with paper(*A4_MM) as sheet:
        pen = _Writer(sheet)
        top = pen.text(MARGIN_MM, 10.0, WIDTH_MM, page.when, TITLE_PT, weight="bold", most=2)
        about = " ".join(filter(None, (words.sentence(page.where), *page.summary)))
        top = pen.text(MARGIN_MM, top + 0.6, WIDTH_MM, about, colour=SOFT_INK, most=3)
        step = WIDTH_MM / max(1, len(page.outcomes))
        for place, tally in enumerate(page.outcomes):
            left = MARGIN_MM + place * step
            pen.text(left, top + 2.0, step - 2.0, str(tally.count), TITLE_PT)
            pen.text(left, top + 10.2, step - 2.0, tally.text, TEXT_PT, most=2)
        top = _draw_losses(pen, audit, page, measurements, top + 20.5)
        _draw_advice(pen, audit, page, top + 3.0)
        sheet.fill(MARGIN_MM, FOOT_MM, WIDTH_MM, 0.2, hexed(LINE))
        top = FOOT_MM + 1.4
        for line in page.lesson_cautions[:2]:
            top = pen.text(MARGIN_MM, top, WIDTH_MM, line, SMALL_PT, most=2)
        pen.text(MARGIN_MM, top, WIDTH_MM, f"{page.made}.", SMALL_PT, colour=SOFT_INK, most=1)
        return sheet.saved("pdf")


@dataclass(slots=True)
class _Writer:
    """A pen that writes lines of text down a sheet, each broken where its column ends."""

    sheet: CardSheet

    def text(
        self, left: float, top: float, width: float, text: str, size: float = TEXT_PT, *,
        colour: Colour = INK, weight: str = "normal", most: int = MOST_LINES,
    ) -> float:  # fmt: skip
        """Write text; return where it ends."""
        # measured in tenths of a point, by the very font that it is written in
        room = int(width / MM_PER_INCH * POINTS_PER_INCH * 10)
        if weight == "bold":
            room = int(room / BOLD_IS_WIDER)
        for line in wrapped(drawable(text), room, round(size * 10), most):
            self.sheet.text(left, top, line, size, color=hexed(colour), weight=weight)
            top += line_height(round(size * 10)) / 10 / POINTS_PER_INCH * MM_PER_INCH
        return top

    def head(self, left: float, top: float, width: float, text: str) -> float:
        """Write the name of a part under a rule; return where the part begins."""
        self.sheet.fill(left, top, width, 0.2, hexed(LINE))
        return self.text(left, top + 1.6, width, text, HEAD_PT, weight="bold") + 0.8

    def lines(
        self, left: float, top: float, width: float, lines: Sequence[str], end: float
    ) -> None:
        """Write lines while there is room, and how many more there are."""
        for number, line in enumerate(lines):
            if top > end - 7.0:
                more = more_in_report(len(lines) - number)
                self.text(left, top, width, more, SMALL_PT, colour=SOFT_INK)
                return
            top = self.text(left, top, width, line) + 0.9


def _draw_losses(
    pen: _Writer, audit: Audit, page: Page, measurements: MeasurementSource, top: float
) -> float:
    """Lay down the three largest losses, the lost patch of each ringed."""
    top = pen.head(MARGIN_MM, top, WIDTH_MM, "Largest losses")
    if not page.losses:
        return pen.text(MARGIN_MM, top, WIDTH_MM, NOTHING_LOST)
    width = (WIDTH_MM - 2 * GAP_MM) / 3
    ends = [top]
    for place, frame_id in enumerate(page.losses):
        left, sheet = MARGIN_MM + place * (width + GAP_MM), page.by_id[frame_id]
        pen.sheet.fill(left, top, width, PICTURE_MM, hexed(TRACK))
        found = frame_pictures(audit.frame(frame_id), measurements)
        picture = None if found is None else opened(found.thumb, PICTURE_PX, PICTURE_PX)
        if picture is not None:
            # fitted into its place, with a ring about what it lost
            tall, wide = picture.shape[:2]
            scale = min(width / wide, PICTURE_MM / tall)
            across, down = wide * scale, tall * scale
            x, y = left + (width - across) / 2, top + (PICTURE_MM - down) / 2
            pen.sheet.picture(picture, x, y, across, down)
            if sheet.loss is not None:
                x0, y0, x1, y1 = sheet.loss.box
                lost = ((x1 - x0) * across, (y1 - y0) * down)
                centre = (x + (x0 + x1) / 2 * across, y + (y0 + y1) / 2 * down)
                ring = [max(2 * LEAST_RING_MM, 1.25 * part) for part in lost]
                pen.sheet.ring(centre, (ring[0], ring[1]), (x, y, across, down))
        below = pen.text(left, top + PICTURE_MM + 1.4, width, sheet.name, weight="bold", most=1)
        told = "" if sheet.loss is None else f"{sheet.loss.text}."
        below = pen.text(left, below, width, told, most=2)
        about = f"{sheet.taken_text} · {sheet.exposure_text}"
        ends.append(pen.text(left, below, width, about, SMALL_PT, colour=SOFT_INK, most=2))
    return max(ends)


def _draw_advice(pen: _Writer, audit: Audit, page: Page, top: float) -> None:
    """Write what to do next time; below it what to keep, beside the filters found."""
    top = pen.head(MARGIN_MM, top, WIDTH_MM, "Next time")
    names = short_names(audit.frames)
    if not page.lessons:
        top = pen.text(MARGIN_MM, top, WIDTH_MM, NOTHING_TO_DO)
    for number, lesson in enumerate(page.lessons[:MOST_LESSONS], 1):
        pen.text(MARGIN_MM, top, 6.0, str(number), weight="bold")
        top = pen.text(MARGIN_MM + 6.0, top, WIDTH_MM - 6.0, lesson.text) + 0.9
    for setups, advice in next_times(audit.setups)[:MOST_LESSONS]:
        when = forecast_of(advice, audit)
        again = f" ({when}, the day after)" if when else ""
        text = words.plain(f"{setups}{again}: {with_short_names(advice.text, names)}")
        top = pen.text(MARGIN_MM + 6.0, top, WIDTH_MM - 6.0, text, SMALL_PT, most=2)
    keep = []
    for setup in page.setups:
        sheets = [page.by_id[frame] for frame in setup.frames if frame in page.by_id]
        kept = [one.name for one in sheets if one.suggestion and one.suggestion.mark == "keep"]
        if kept:
            keep.append(f"{setup.title}: {listed(kept)}")
    found = [words.plain(line) for line in found_lines(audit)] or ["None."]
    right = MARGIN_MM + HALF_MM + GAP_MM
    for left, head, lines in ((MARGIN_MM, "Keep", keep), (right, "Filters found", found)):
        begin = pen.head(left, top + 3.0, HALF_MM, head)
        pen.lines(left, begin, HALF_MM, lines, FOOT_MM)
