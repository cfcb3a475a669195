"""What the decoder hands over, as plain values, and how colour lies in it.

The rest of the room needs no decoder. Its colour numbers are turned into planes place by place
over a block of the visible part; its own ready-made pattern is wrong for X-Trans with margins.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from auditor.model.arrays import U8, U16
from auditor.model.codes import Layout
from auditor.model.mosaic import PLANE_NAMES
from auditor.model.remark import Remark, RemarkCode, remark
from auditor.words import unread


@dataclass(frozen=True, slots=True, eq=False)
class Decoded:
    """One decoded picture, its margins included.

    Parameters
    ----------
    stored : array of uint16
        (rows, cols), or (rows, cols, 3) where each pixel holds three samples. A view that keeps
        the decoder's memory alive.
    top, left, height, width : int
        The visible part, as the decoder sees it (it moves odd margins to even ones).
    colours : array of uint8, shape (12, 12), or None
        The decoder's colour number of each place from the top-left visible pixel; None for
        three-sample data.
    colour_letters : str
        The letter of each colour number.
    colour_count : int
        1 for monochrome.
    black_dn : tuple of float
        By colour number.
    white_dn : float
        One for all.
    linear_limit_dn : tuple of float or None
        By colour number.
    pixel_aspect : float
        Width of a pixel over its height.
    foreign_tiles : tuple of int
        Numbers of the tiles whose packed data are not those of one whole tile.
    """

    stored: U16
    top: int
    left: int
    height: int
    width: int
    colours: U8 | None
    colour_letters: str
    colour_count: int
    black_dn: tuple[float, ...]
    white_dn: float
    linear_limit_dn: tuple[float, ...] | None = None
    pixel_aspect: float = 1.0
    foreign_tiles: tuple[int, ...] = ()

    @property
    def visible(self) -> U16:
        """The visible pixels, a view."""
        return self.stored[self.top : self.top + self.height, self.left : self.left + self.width]


BLOCK = 12
"""Side of the block looked at: a multiple of the periods of both known patterns."""

BAYER_PERIOD, XTRANS_PERIOD = 2, 6


@dataclass(frozen=True, slots=True, eq=False)
class Pattern:
    """The layout with its two views of every place.

    Parameters
    ----------
    planes : array of uint8, shape (rows, cols)
        Index into the layout's plane names.
    colours : array of uint8, shape (rows, cols)
        The decoder's colour numbers, by which it orders its levels.
    """

    layout: Layout
    planes: U8
    colours: U8

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the planes, in order."""
        return PLANE_NAMES[self.layout]

    def colour_of(self, plane: int) -> int:
        """Return a decoder's colour number of a plane."""
        if self.layout is Layout.LINEAR:
            return plane
        return int(self.colours[self.planes == plane][0])


def read_pattern(decoded: Decoded, remarks: list[Remark]) -> Pattern:
    """Tell the layout of a decoded picture.

    Parameters
    ----------
    remarks : list of Remark
        Added to: what was odd.

    Raises
    ------
    UnreadableFile
        The colours lie in no way that is known here.
    """
    nothing = np.zeros((1, 1), dtype=np.uint8)
    if decoded.colours is None:
        return Pattern(Layout.LINEAR, nothing, nothing)
    if decoded.colour_count == 1:
        return Pattern(Layout.MONO, nothing, nothing)
    for period, layout in ((BAYER_PERIOD, Layout.BAYER), (XTRANS_PERIOD, Layout.XTRANS)):
        cell = decoded.colours[:period, :period]
        if np.array_equal(np.tile(cell, (BLOCK // period, BLOCK // period)), decoded.colours):
            letters = decoded.colour_letters
            if cell.max() >= len(letters):
                break
            named = np.array([[letters[colour] for colour in row] for row in cell])
            bayer = layout is Layout.BAYER
            planes = _bayer_planes(named, remarks) if bayer else _xtrans_planes(named)
            if planes is not None:
                return Pattern(layout, planes, cell.copy())
            break
    raise unread.PATTERN.error()


def _bayer_planes(
    named: np.ndarray[tuple[int, int], np.dtype[np.str_]], remarks: list[Remark]
) -> U8 | None:
    """Give each place its plane: R, G1 (in red's rows), G2 (in blue's rows), B."""
    for twin in "RB":  # a damaged tag names one of them twice; which is which is a guess
        if sorted(named.flat) == sorted("GG" + 2 * twin):
            row, column = np.argwhere(named == twin)[1]
            named[row, column] = "B" if twin == "R" else "R"
            remarks.append(remark(RemarkCode.COLOUR_NAMED_TWICE))
    greens = (named == "G").tolist()
    # greens in one row or column would be stripes, not the Bayer pattern
    if sorted(named.flat) != ["B", "G", "G", "R"] or greens[0] == greens[1] or all(greens[0]):
        return None
    planes = np.zeros((2, 2), dtype=np.uint8)
    for y in range(2):
        green = 1 if "R" in named[y] else 2
        for x in range(2):
            planes[y, x] = {"R": 0, "G": green, "B": 3}[named[y, x]]
    return planes


def _xtrans_planes(named: np.ndarray[tuple[int, int], np.dtype[np.str_]]) -> U8 | None:
    """Give each place its plane: the 6 x 6 cell holds 8 red, 20 green and 8 blue places."""
    counts = {letter: int((named == letter).sum()) for letter in "RGB"}
    if counts != {"R": 8, "G": 20, "B": 8}:
        return None
    numbers = {"R": 0, "G": 1, "B": 2}
    return np.array([[numbers[letter] for letter in row] for row in named], dtype=np.uint8)
