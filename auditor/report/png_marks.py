"""The marks that all pictures share: range bars, the step wedge, pictures with their clip maps."""

from __future__ import annotations

import io
from dataclasses import dataclass

import numpy as np
from PIL import Image, ImageDraw

from auditor.model.arrays import U8, Bool
from auditor.report.frame_records import ToneBar
from auditor.report.page_pictures import LostMaps
from auditor.report.png_canvas import Canvas, hatch_pattern, stipple_pattern
from auditor.report.style import (
    CARD,
    EDGE,
    INK,
    LINE,
    SOFT_INK,
    TRACK,
    Colour,
    cap_length,
    wedge_greys,
)

LONGEST_CAP = 22
"""Longest of a hatched or stippled cap beyond the ends of a bar, pixels."""

DIMMED = 0.45
"""How much of the picture shows through under a clip map."""

DOT_PX = 6
"""Least distance of two dots."""

LEAST_COMPANY = 3
"""Blocked tiles with fewer blocked ones about them are specks: dots with a dark rim."""


@dataclass(frozen=True, slots=True)
class StopsAxis:
    """Stops below saturation on the sheet: darkest left, saturation right.

    Parameters
    ----------
    left, right : int
        Pixels; saturation lies at ``right``.
    depth : float
        Stops below saturation at ``left``.
    """

    left: int
    right: int
    depth: float

    def x(self, stops: float) -> float:
        """Return the place of so many stops below saturation, kept on the axis."""
        share = min(max(stops / self.depth, 0.0), 1.0)
        return self.right - share * (self.right - self.left)


def draw_wedge(canvas: Canvas, axis: StopsAxis, top: int, height: int) -> None:
    """Draw one step a stop, the brightest next to saturation."""
    _draw_slice(canvas, axis, (top, top + height), 0.0, float(max(1, int(axis.depth))))


def _draw_slice(
    canvas: Canvas, axis: StopsAxis, rows: tuple[int, int], bright: float, dark: float
) -> None:
    """Draw the part of the wedge between two places on the axis, with an edge round it."""
    greys = wedge_greys(max(1, round(axis.depth)))
    for step, grey in enumerate(reversed(greys)):
        right, left = axis.x(max(step, bright)), axis.x(min(step + 1, dark))
        canvas.fill(left, rows[0], right, rows[1], (grey, grey, grey))
    left, right = round(axis.x(dark)), round(axis.x(bright))
    canvas.frame(left, rows[0], max(right, left + 2), rows[1], EDGE)


def draw_bar(canvas: Canvas, axis: StopsAxis, bar: ToneBar, top: int, height: int) -> None:
    """Draw one range bar: the slice of the wedge that the tones take, what is lost beyond it.

    A hatched cap beyond saturation says blown, a stippled one beyond the left end blocked;
    the notch is the median, the thin post the noise floor. Caps reach
    :data:`LONGEST_CAP` pixels beyond the axis.
    """
    middle, bottom = top + height // 2, top + height
    floor = axis.depth if bar.floor_stops is None else bar.floor_stops
    for stop in range(1, int(axis.depth)):
        canvas.fill(axis.x(stop), middle - 2, axis.x(stop) + 1, middle + 3, LINE)
    canvas.rule(round(axis.x(floor)), axis.right, middle, EDGE)
    if bar.bright_stops is not None:
        begin = min(axis.depth, bar.begin_stops or 0.0)
        _draw_slice(canvas, axis, (top, bottom), bar.bright_stops, begin)
    if bar.median_stops is not None:
        notch = axis.x(bar.median_stops)
        canvas.fill(notch - 2, top - 2, notch + 2, bottom + 2, CARD)
        canvas.fill(notch - 1, top - 2, notch + 1, bottom + 2, INK)
    if bar.floor_stops is not None:
        canvas.fill(axis.x(floor), top - 1, axis.x(floor) + 1, bottom + 1, SOFT_INK)
    canvas.fill(axis.right, top - 3, axis.right + 2, bottom + 3, INK)
    over, under = (cap_length(share, LONGEST_CAP) for share in (bar.blown, bar.blocked))
    canvas.pattern("blown", (axis.right + 3, top, axis.right + 3 + over, bottom))
    canvas.pattern("blocked", (axis.left - 2 - under, top, axis.left - 2, bottom))


def opened(jpeg: bytes | None, width: int, height: int) -> U8 | None:
    """Open a small picture and fit it into a box; None where there is none to open."""
    if not jpeg:
        return None
    try:
        with Image.open(io.BytesIO(jpeg)) as stored:
            picture = stored.convert("RGB")
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError):
        return None
    scale = min(width / picture.width, height / picture.height)
    size = (max(1, round(picture.width * scale)), max(1, round(picture.height * scale)))
    return np.asarray(picture.resize(size, Image.Resampling.BICUBIC))


def with_losses(picture: U8, maps: LostMaps, *, pale: bool = True) -> U8:
    """Return the picture with what is lost drawn in: the map that was judged.

    Areas are hatched within a line that shows even one tile; single specks are dots, the picture
    between them untouched; what lies under the noise floor is stippled.

    Parameters
    ----------
    picture : array of uint8, shape (height, width, 3)
    maps : ClipMaps
        Upright, any resolution.
    pale : bool
        Whether the picture itself steps back, in pale grey.
    """
    drawn = picture.copy()
    if pale:
        grey = picture.mean(axis=2, keepdims=True)
        drawn = (255 - DIMMED * (255 - grey)).repeat(3, axis=2).astype(np.uint8)
    height, width = drawn.shape[:2]
    lone = blocked = None
    if maps.blocked is not None:
        # blocked tiles with few others among the eight about them are specks
        wide, (rows, cols) = np.pad(maps.blocked, 1).astype(np.uint8), maps.blocked.shape
        nine = sum(wide[y : y + rows, x : x + cols] for y in range(3) for x in range(3))
        company = nine - maps.blocked >= LEAST_COMPANY
        lone, blocked = maps.blocked & ~company, maps.blocked & company
    for lost, pattern in ((blocked, stipple_pattern), (maps.areas, hatch_pattern)):
        if lost is not None and lost.any():
            where = _stretched(lost, height, width)
            drawn[where] = CARD
            drawn[where & pattern(height, width)] = INK
    lost = _stretched(maps.areas, height, width)
    edge = _grown(lost)
    drawn[_grown(edge) & ~edge] = CARD
    drawn[edge & ~lost] = INK
    _draw_dots(drawn, maps.specks, (CARD, INK))
    if lone is not None:
        _draw_dots(drawn, lone, (INK, CARD))
    return drawn


def with_line(picture: U8, ends: tuple[float, float]) -> U8:
    """Return the picture with a line across it, dark with a light rim.

    Parameters
    ----------
    picture : array of uint8, shape (height, width, 3)
    ends : (float, float)
        Where it meets the left and the right edge, as shares of the height from the top.
    """
    drawn = Image.fromarray(picture)
    pen, (height, width) = ImageDraw.Draw(drawn), picture.shape[:2]
    line = [(0.0, ends[0] * height), (float(width), ends[1] * height)]
    for thickness, colour in ((5, CARD), (2, INK)):
        pen.line(line, fill=colour, width=thickness)
    return np.asarray(drawn)


def _draw_dots(drawn: U8, specks: Bool, colours: tuple[Colour, Colour]) -> None:
    """Set a dot with a rim at each speck; those nearer than a dot is wide share one."""
    height, width = drawn.shape[:2]
    rows, cols = np.nonzero(specks)
    ys = (2 * rows + 1) * height // (2 * specks.shape[0])
    xs = (2 * cols + 1) * width // (2 * specks.shape[1])
    places = {(y // DOT_PX, x // DOT_PX): (y, x) for y, x in zip(ys, xs, strict=True)}
    for size, colour in zip((DOT_PX // 2 + 1, DOT_PX // 2 - 1), colours, strict=True):
        for y, x in places.values():
            top, left = max(0, y - size // 2), max(0, x - size // 2)
            drawn[top : top + size, left : left + size] = colour


def _grown(map_: Bool) -> Bool:
    """Return the map and all that touches it."""
    wide = np.pad(map_, 1)
    grown = wide.copy()
    for step in (-1, 1):
        grown |= np.roll(wide, step, 0) | np.roll(wide, step, 1)
    inner: Bool = grown[1:-1, 1:-1]
    return inner


def _stretched(map_: Bool, height: int, width: int) -> Bool:
    rows = (np.arange(height) * map_.shape[0]) // height
    cols = (np.arange(width) * map_.shape[1]) // width
    stretched: Bool = map_[np.ix_(rows, cols)]
    return stretched


def draw_picture(canvas: Canvas, picture: U8 | None, box: tuple[int, int, int, int]) -> None:
    """Lay a picture into the middle of a box (left, top, width, height); empty without one."""
    left, top, width, height = box
    canvas.fill(left, top, left + width, top + height, TRACK)
    if picture is not None:
        tall, wide = picture.shape[:2]
        canvas.paste(picture, left + (width - wide) // 2, top + (height - tall) // 2)
