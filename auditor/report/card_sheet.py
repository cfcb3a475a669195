"""A card to print and carry, A6, as PNG or PDF: the paper, its pen, and the file it goes to."""

from __future__ import annotations

import io
import os
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from auditor.model.arrays import U8
from auditor.model.errors import WrongCall
from auditor.report.chart_style import Ellipse, Figure, Rectangle, chart_style
from auditor.report.png_canvas import drawable
from auditor.report.style import CARD, INK, SOFTWARE, WEDGE_STEPS, Colour, hexed, wedge_greys
from auditor.words import calls

SHORT_MM, LONG_MM = 105.0, 148.0
"""A6."""

DOTS_PER_INCH = 300
MARGIN_MM = 8.0
LINE_MM = 3.3
MM_PER_INCH = 25.4
ABOVE_BOXES = 2
"""In the drawing library's order, in which filled boxes are 1."""

FORMATS = {".png": "png", ".pdf": "pdf"}


def check_card(path: Path, *, replace: bool) -> None:
    """Refuse a card that could not be written, before anything is worked out.

    Raises
    ------
    WrongCall
        Its name ends otherwise than in .png or .pdf, or it is there already and may not be
        replaced.
    """
    if path.suffix.lower() not in FORMATS:
        raise WrongCall(calls.CARD_SUFFIX.format(path=path))
    if os.path.lexists(path) and not replace:
        raise WrongCall(calls.CARD_THERE.format(path=path))


@contextmanager
def paper(width_mm: float, height_mm: float) -> Iterator[CardSheet]:
    """Hand out an empty sheet of any size, to be drawn on and saved inside this block."""
    with chart_style(pdf_fonttype=42, savefig_dpi=DOTS_PER_INCH):
        sheet = CardSheet(width_mm, height_mm)
        sheet.fill(0.0, 0.0, width_mm, height_mm, hexed(CARD))
        sheet.wedge()
        yield sheet


class CardSheet:
    """A sheet that is drawn on in millimetres from the top left."""

    def __init__(self, width_mm: float, height_mm: float) -> None:
        self.width_mm, self.height_mm = width_mm, height_mm
        self.figure = Figure(figsize=(width_mm / MM_PER_INCH, height_mm / MM_PER_INCH))
        self.axes = self.figure.add_axes((0.0, 0.0, 1.0, 1.0))
        self.axes.set_xlim(0.0, width_mm)
        self.axes.set_ylim(height_mm, 0.0)
        self.axes.axis("off")

    def saved(self, kind: str) -> bytes:
        """Return the sheet as a "png" or "pdf" file's bytes, the same for the same drawing."""
        facts: dict[str, Any] = {"Software": SOFTWARE}
        if kind == "pdf":
            facts = {"Creator": SOFTWARE, "Producer": SOFTWARE, "CreationDate": None}
        stream = io.BytesIO()
        self.figure.savefig(stream, format=kind, metadata=facts)
        return stream.getvalue()

    def text(self, left: float, top: float, text: str, size: float, **look: Any) -> None:
        """Write text; what hides or steers in it becomes visible."""
        settings = {"color": hexed(INK), "va": "top", "ha": "left"} | look
        shown = "\n".join(drawable(line) for line in text.split("\n"))
        self.axes.text(left, top, shown, fontsize=size, **settings)

    def fill(self, left: float, top: float, width: float, height: float, colour: str) -> None:
        """Fill a box."""
        self.axes.add_patch(Rectangle((left, top), width, height, facecolor=colour, linewidth=0.0))

    def picture(self, picture: U8, left: float, top: float, width: float, height: float) -> None:
        """Lay down a picture, (height, width, 3), in a box."""
        box = (left, left + width, top + height, top)
        self.axes.imshow(
            picture, extent=box, aspect="auto", interpolation="antialiased", zorder=ABOVE_BOXES
        )
        # laying down a picture moves the ends of the axes to it
        self.axes.set_xlim(0.0, self.width_mm)
        self.axes.set_ylim(self.height_mm, 0.0)

    def ring(
        self,
        centre: tuple[float, float],
        size: tuple[float, float],
        inside: tuple[float, float, float, float],
    ) -> None:
        """Draw a ring that shows on any ground, kept inside a box (left, top, width, height)."""
        left, top, width, height = inside
        bounds = Rectangle((left, top), width, height, transform=self.axes.transData)
        for line_pt, colour in ((2.6, INK), (1.2, CARD)):
            ring = Ellipse(
                centre,
                *size,
                fill=False,
                edgecolor=hexed(colour),
                linewidth=line_pt,
                zorder=ABOVE_BOXES + 1,
            )
            self.axes.add_patch(ring)
            ring.set_clip_path(bounds)

    def lines(self, top: float, lines: Sequence[str], colour: Colour) -> None:
        """Write small lines, one under the other."""
        for number, line in enumerate(lines):
            self.text(MARGIN_MM, top + number * LINE_MM, line, 6.4, color=hexed(colour))

    def wedge(self) -> None:
        """Draw a step wedge across the top, the mark of every sheet here."""
        width = self.width_mm / WEDGE_STEPS
        for step, grey in enumerate(wedge_greys(WEDGE_STEPS)):
            self.fill(step * width, 0.0, width + 0.1, 3.2, hexed((grey, grey, grey)))
