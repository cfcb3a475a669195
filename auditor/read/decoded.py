"""What the decoder hands over, as plain values, and how colour lies in it.

The rest of the room needs no decoder. Its colour numbers are turned into planes place by place
over a block of the visible part; its own ready-made pattern is wrong for X-Trans with margins.

What the metadata lack is filled in from it, but for invented values: the decoder turns an exposure
time of 0/x into 1 s and an f-number of 0/x into 1, and gives 0 for what is absent and 1970 for no
date. Where it does answer, a note says that it did.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np

from auditor.model.arrays import U8, U16
from auditor.model.codes import Layout
from auditor.model.facts import ExposureFacts, FileFacts
from auditor.model.mosaic import PLANE_NAMES
from auditor.model.remark import Remark, RemarkCode, remark
from auditor.read.exif_tags import clean, named, shutter_time
from auditor.words import unread

_ORIENTATIONS = {3: 3, 5: 8, 6: 6}
"""The decoder's turn (3 upside down, 5 a quarter left, 6 a quarter right) as Exif has it."""


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


@dataclass(frozen=True, slots=True)
class DecoderFacts:
    """What the decoder tells, as it tells it: 0 or empty for absent."""

    iso: float = 0.0
    time_s: float = 0.0
    f_number: float = 0.0
    focal_mm: float = 0.0
    lens: str = ""
    moment: datetime | None = None
    flip: int = 0
    white_balance: tuple[float, ...] = ()


def complete_facts(facts: FileFacts, told: DecoderFacts) -> FileFacts:
    """Return the facts with the gaps filled that the decoder can fill honestly."""
    answered: list[str] = []
    exposure = _exposure(facts.exposure, told, answered)
    lens = facts.lens
    if lens.focal_mm is None and _within(told.focal_mm, 0.1, 1e5):
        lens = replace(lens, focal_mm=round(float(told.focal_mm), 2))
        answered.append("focal length")
    if lens.model is None and (model := named(clean(told.lens))) is not None:
        lens = replace(lens, model=model)
        answered.append("lens")
    captured_at = facts.captured_at
    if captured_at is None and told.moment is not None and told.moment.year > 1970:
        captured_at = told.moment.isoformat(timespec="seconds")
        answered.append("time")
    note = remark(RemarkCode.FROM_DECODER, facts=tuple(answered))
    return replace(
        facts,
        exposure=exposure,
        lens=lens,
        captured_at=captured_at,
        orientation=facts.orientation or _ORIENTATIONS.get(told.flip),
        white_balance=facts.white_balance or white_balance(told.white_balance),
        remarks=(*facts.remarks, note) if answered else facts.remarks,
    )


def _exposure(known: ExposureFacts, told: DecoderFacts, answered: list[str]) -> ExposureFacts:
    if known.iso is None and _within(told.iso, 1.0, 1e8):
        known = replace(known, iso=float(told.iso))
        answered.append("ISO")
    if known.time_s is None and _within(told.time_s, 1e-7, 1e6) and told.time_s != 1.0:
        # what single precision adds is taken off: 0.0198 for 1/50 becomes 0.02 again
        nominal_s = float(f"{told.time_s:.6g}")
        time_s, source = shutter_time(nominal_s, None)
        known = replace(known, time_s=time_s, time_source=source, nominal_time_s=nominal_s)
        answered.append("shutter time")
    if known.f_number is None and _within(told.f_number, 0.3, 256.0) and told.f_number != 1.0:
        known = replace(known, f_number=round(float(told.f_number), 2))
        answered.append("f-number")
    return known


def _within(value: float, least: float, most: float) -> bool:
    return math.isfinite(value) and least <= value <= most


def white_balance(multipliers: tuple[float, ...]) -> dict[str, float]:
    """Return the as-shot multipliers for R, G and B with green 1; empty where one is absent."""
    if len(multipliers) < 3 or not all(_within(value, 1e-6, 1e9) for value in multipliers[:3]):
        return {}
    red, green, blue = (float(value) for value in multipliers[:3])
    return {"R": red / green, "G": 1.0, "B": blue / green}
