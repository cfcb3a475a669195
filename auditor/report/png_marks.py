"""The marks that all pictures share: range bars, the step wedge, pictures with their clip maps."""

from __future__ import annotations

import io
from dataclasses import dataclass

import numpy as np
from PIL import Image

from auditor.model.arrays import U8, Bool
from auditor.report.page_records import ToneBar
from auditor.report.png_canvas import Canvas, hatch_pattern, stipple_pattern
from auditor.report.style import CARD, INK, LINE, SOFT_INK, TONE, TRACK

END_BLOCK = 0.45
"""Width of the hatched and stippled ends of a bar, in stops."""

DIMMED = 0.45
"""How much of the picture shows through under a clip map."""


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

    @property
    def block(self) -> int:
        """Width of a bar's end block, pixels."""
        return max(5, round(END_BLOCK * (self.right - self.left) / self.depth))


def wedge_greys(steps: int) -> list[int]:
    """Return the greys of a step wedge, dark first, even to the eye (CIE L* in even steps)."""
    lightness = [8.0 + 88.0 * step / max(1, steps - 1) for step in range(steps)]
    return [round(255 * _srgb(_linear(value))) for value in lightness]


def _linear(lightness: float) -> float:
    """Return Y of CIE L*, 0 to 1 (CIE 15)."""
    return ((lightness + 16) / 116) ** 3 if lightness > 8 else lightness / 903.3


def _srgb(linear: float) -> float:
    """Encode by IEC 61966-2-1."""
    return 12.92 * linear if linear <= 0.0031308 else 1.055 * linear ** (1 / 2.4) - 0.055


def draw_wedge(canvas: Canvas, axis: StopsAxis, top: int, height: int) -> None:
    """Draw one step a stop, the brightest next to saturation."""
    steps = max(1, int(axis.depth))
    for step, grey in enumerate(reversed(wedge_greys(steps))):
        canvas.fill(axis.x(step + 1), top, axis.x(step), top + height, (grey, grey, grey))
    canvas.frame(round(axis.x(steps)), top, axis.right, top + height, LINE)


def draw_bar(canvas: Canvas, axis: StopsAxis, bar: ToneBar, top: int, height: int) -> None:
    """Draw one range bar: the sensor's range as a track, the tones in it, what is lost at its ends.

    A hatched block at the right end says blown, a stippled one at the left end blocked; the
    dark tick is the median.
    """
    floor = axis.depth if bar.floor_stops is None else bar.floor_stops
    canvas.fill(axis.x(floor), top, axis.right, top + height, TRACK)
    if bar.bright_stops is not None and bar.dark_stops is not None:
        inset = height // 4
        canvas.fill(
            axis.x(bar.dark_stops),
            top + inset,
            axis.x(bar.bright_stops),
            top + height - inset,
            TONE,
        )
    if bar.blown:
        canvas.pattern("blown", (axis.right - axis.block, top, axis.right, top + height))
    if bar.blocked:
        start = axis.x(floor)
        canvas.pattern("blocked", (start, top, start + axis.block, top + height))
    if bar.median_stops is not None:
        middle = axis.x(bar.median_stops)
        canvas.fill(middle - 1, top, middle + 1, top + height, INK)
    canvas.fill(axis.x(floor) - 1, top, axis.x(floor), top + height, SOFT_INK)
    canvas.fill(axis.right, top, axis.right + 1, top + height, SOFT_INK)


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


def with_losses(picture: U8, blown: Bool, blocked: Bool | None) -> U8:
    """Return the picture in pale grey with hatch where it is blown and stipple where blocked.

    Parameters
    ----------
    picture : array of uint8, shape (height, width, 3)
    blown, blocked : array of bool, shape (rows, cols)
        Upright, any resolution; None where it is not known.
    """
    grey = picture.mean(axis=2, keepdims=True)
    pale: U8 = (255 - DIMMED * (255 - grey)).repeat(3, axis=2).astype(np.uint8)
    height, width = pale.shape[:2]
    for lost, pattern in ((blown, hatch_pattern), (blocked, stipple_pattern)):
        if lost is not None and lost.any():
            where = _stretched(lost, height, width)
            pale[where] = CARD
            pale[where & pattern(height, width)] = INK
    return pale


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
