"""A sheet to draw on, in pixels from the top left. Text stays in its own box, whatever it holds.

Every line of text is fitted to the width it is given and cut to the box it is given, so no
text reaches another one as long as the boxes do not meet; the boxes are kept in
:attr:`Canvas.boxes` for whoever wants to check.
"""

from __future__ import annotations

import io
import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np
from PIL import Image, ImageDraw, ImageFont, PngImagePlugin

from auditor.model.arrays import U8, Bool
from auditor.model.text import visible
from auditor.report.style import (
    HATCH,
    INK,
    PAPER,
    PATTERN_BACK,
    SOFTWARE,
    STIPPLE,
    Colour,
    font_path,
)

Align = Literal["left", "right", "middle"]
Mark = Literal["blown", "blocked"]
ELLIPSIS = "…"

A4_WIDTH, A4_HEIGHT, DOTS_PER_INCH = 1654, 2339, 200
"""A sheet of A4 (210 mm by 297 mm, ISO 216) in pixels."""

SMALL, BODY, HEAD, TITLE = 18, 19, 23, 34
"""Sizes of text, pixels. The smallest is 6.5 pt on A4, and still 6 pt where a printer's margins
make the sheet a twentieth smaller."""
NO_CHARACTER = "\uffff"
"""Never a character: it is drawn with the sign that stands for all that the font lacks."""

WORD = re.compile(r"\S+(?: %\S*)?")
"""What a line is not broken in: a figure keeps its sign."""

NARROWEST = 0.25
"""Width of the narrowest letters in font sizes: longer text is cut before it is measured."""

MOST_LINES = 12
"""Of one paragraph: more than our longest sentence takes; texts from files may hold anything."""

LEADING = 1.45
"""Height of a line in font sizes: room for every ascender and descender of the font."""


@dataclass(frozen=True, slots=True)
class Box:
    """Where one line of text was drawn, what it says, and whether it had to be shortened."""

    left: int
    top: int
    right: int
    bottom: int
    text: str
    size: int
    shortened: bool = False


class Canvas:
    """One picture in the making.

    Parameters
    ----------
    width, height : int
        Pixels.
    """

    def __init__(self, width: int, height: int) -> None:
        self.picture = Image.new("RGB", (width, height), PAPER)
        self.boxes: list[Box] = []
        self._draw = ImageDraw.Draw(self.picture)

    def fill(self, left: float, top: float, right: float, bottom: float, colour: Colour) -> None:
        """Fill a rectangle; right and bottom are outside it."""
        if round(right) > round(left) and round(bottom) > round(top):
            corners = (round(left), round(top), round(right) - 1, round(bottom) - 1)
            self._draw.rectangle(corners, fill=colour)

    def frame(self, left: int, top: int, right: int, bottom: int, colour: Colour) -> None:
        """Draw the outline of a rectangle, one pixel wide, inside it."""
        self._draw.rectangle((left, top, right - 1, bottom - 1), outline=colour)

    def rule(self, left: int, right: int, y: int, colour: Colour) -> None:
        """Draw a level line one pixel high."""
        self.fill(left, y, right, y + 1, colour)

    def pattern(
        self, mark: Mark, box: tuple[float, float, float, float], colour: Colour = INK
    ) -> None:
        """Fill a rectangle (left, top, right, bottom) with the mark of blown or of blocked."""
        left, top, right, bottom = (round(edge) for edge in box)
        if right > left and bottom > top:
            self.fill(left, top, right, bottom, PATTERN_BACK)
            mask = PATTERNS[mark](bottom - top, right - left).astype(np.uint8) * 255
            self.picture.paste(colour, (left, top), Image.fromarray(mask))

    def paste(self, picture: U8, left: int, top: int) -> None:
        """Lay a picture onto the sheet: (height, width, 3), or 4 with its opacity."""
        laid = Image.fromarray(picture)
        self.picture.paste(laid, (left, top), laid if picture.shape[2] == 4 else None)

    def text(
        self,
        left: int,
        top: int,
        width: int,
        text: str,
        *,
        size: int = BODY,
        bold: bool = False,
        colour: Colour = INK,
        align: Align = "left",
        keep_end: bool = False,
    ) -> int:
        """Write one line into a box of that width; return the width that it took.

        What does not fit ends in an ellipsis, or begins with one to keep its end; characters
        that are hidden, or that the font has no sign for, are written out.
        """
        text = drawable(text, bold=bold)
        if not text or width <= 0:
            return 0
        shown = (fitted_to_end if keep_end else fitted)(text, width, size, bold=bold)
        taken = min(width, _width_of(shown, size, bold))
        start = {"left": left, "right": left + width - taken, "middle": left + (width - taken) // 2}
        x, height = start[align], line_height(size)
        mask = Image.new("L", (taken, height))
        ImageDraw.Draw(mask).text((0, height * 0.78), shown, 255, _font(size, bold), anchor="ls")
        self.picture.paste(colour, (x, top), mask)
        self.boxes.append(Box(x, top, x + taken, top + height, shown, size, shown != text))
        return taken

    def paragraph(
        self,
        left: int,
        top: int,
        width: int,
        text: str,
        *,
        size: int = BODY,
        colour: Colour = INK,
        most_lines: int = MOST_LINES,
    ) -> int:
        """Write text over several lines; return the y below the last one."""
        for line in wrapped(drawable(text), width, size, most_lines):
            self.text(left, top, width, line, size=size, colour=colour)
            top += line_height(size)
        return top

    def to_png(self, height: int | None = None) -> bytes:
        """Return the picture, cut at ``height``, as PNG."""
        cut = self.picture.crop((0, 0, self.picture.width, height or self.picture.height))
        stream = io.BytesIO()
        facts = PngImagePlugin.PngInfo()
        facts.add_text("Software", SOFTWARE)
        cut.save(stream, "PNG", compress_level=4, pnginfo=facts, dpi=(DOTS_PER_INCH,) * 2)
        return stream.getvalue()


def hatch_pattern(height: int, width: int) -> Bool:
    """Return the mark of blown, (height, width): rising strokes."""
    rows, cols = np.ogrid[:height, :width]
    pattern: Bool = (rows + cols) % HATCH.period < HATCH.mark
    return pattern


def stipple_pattern(height: int, width: int) -> Bool:
    """Return the mark of blocked, (height, width): dots in offset rows."""
    rows, cols = np.ogrid[:height, :width]
    shifted = cols + (rows // STIPPLE.period % 2) * (STIPPLE.period // 2)
    pattern: Bool = (rows % STIPPLE.period < STIPPLE.mark) & (
        shifted % STIPPLE.period < STIPPLE.mark
    )
    return pattern


def drawable(text: str, *, bold: bool = False) -> str:
    r"""Return text of which every character shows: what the font cannot draw is written out.

    A letter of a script that the font does not hold becomes ``\uNNNN``, as
    :func:`auditor.model.text.visible` writes a hidden one, instead of an empty box.
    """
    shown = visible(text)
    if shown.isascii():
        return shown
    lacking = _drawn(NO_CHARACTER, bold)
    return "".join(
        c.encode("ascii", "backslashreplace").decode()
        if not c.isascii() and _drawn(c, bold) == lacking
        else c
        for c in shown
    )


PATTERNS = {"blown": hatch_pattern, "blocked": stipple_pattern}


def line_height(size: int) -> int:
    """Return the height of one line, pixels."""
    return round(size * LEADING)


def fitted(text: str, width: int, size: int, *, bold: bool = False) -> str:
    """Return the text, or as much of it as fits with an ellipsis behind it."""
    text = text[: _most_characters(width, size) + 1]
    if _width_of(text, size, bold) <= width:
        return text
    least, most = 0, len(text)
    while least < most:
        middle = (least + most + 1) // 2
        if _width_of(text[:middle] + ELLIPSIS, size, bold) <= width:
            least = middle
        else:
            most = middle - 1
    return text[:least].rstrip() + ELLIPSIS


def fitted_to_end(text: str, width: int, size: int, *, bold: bool = False) -> str:
    """Return the text, or as much of its end as fits with an ellipsis before it."""
    if _width_of(text, size, bold) <= width:
        return text
    back = fitted(text[::-1], width, size, bold=bold)
    return ELLIPSIS + back.removesuffix(ELLIPSIS)[::-1].lstrip()


def wrapped(text: str, width: int, size: int, most_lines: int) -> Sequence[str]:
    """Break text into lines that fit; a word wider than a line is broken, the rest is cut."""
    lines: list[str] = []
    line = ""
    for word in WORD.findall(text[: _most_characters(width, size) * (most_lines + 1)]):
        longer = f"{line} {word}".strip()
        if not line or _width_of(longer, size, False) <= width:
            line = longer
            continue
        lines.append(line)
        line = word
        if len(lines) == most_lines:
            break
    else:
        lines.append(line)
        line = ""
    if line or len(lines) > most_lines:
        lines[most_lines - 1] = f"{lines[most_lines - 1]} {ELLIPSIS}"
    return [fitted(line, width, size) for line in lines[:most_lines] if line]


def _most_characters(width: int, size: int) -> int:
    return int(width / (NARROWEST * size))


@lru_cache(maxsize=64)
def _font(size: int, bold: bool) -> ImageFont.FreeTypeFont:
    # The basic layout is the same everywhere; the other one needs a library of the system.
    return ImageFont.truetype(font_path(bold=bold), size, layout_engine=ImageFont.Layout.BASIC)


@lru_cache(maxsize=2048)
def _drawn(character: str, bold: bool) -> bytes:
    mask = Image.new("L", (40, 40))
    ImageDraw.Draw(mask).text((8, 30), character, 255, _font(20, bold), anchor="ls")
    return mask.tobytes()


@lru_cache(maxsize=8192)
def _width_of(text: str, size: int, bold: bool) -> int:
    return int(np.ceil(_font(size, bold).getlength(text))) + 1
