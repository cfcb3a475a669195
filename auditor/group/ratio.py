"""How much light one frame was held back against others, channel by channel."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from auditor.group.tile_image import TileImage
from auditor.model.arrays import F32, Bool
from auditor.model.half_sample_mode import Core, half_sample_mode

FLOORS = (8.0, 4.0, 2.0)
"""Tones are trusted from this many noise floors on; the strictest that leaves enough tiles."""

ENOUGH_TILES = 250

LEAST_STILL = 60
"""Tiles without a change of detail below which such changes are not looked at."""

STEADY_TILES = 0.15
"""A shift smaller than this is within what shifts can be told by."""

DETAIL_SPEAKS = 1.5
"""Detail (1 is noise alone) from which a change of detail means that something moved."""

DETAIL_CHANGE = 2.5

FIRM_STOPS = 0.12
"""Median deviation within a block up to which its level says something."""

UNEVEN_BLOCK = 12
"""Tiles a side of the blocks whose levels are compared to tell whether a change was even."""


@dataclass(frozen=True, slots=True, eq=False)
class AlignedFrame:
    """A frame as one of several that a filtered frame is held against.

    Parameters
    ----------
    image : TileImage
    settings_stops : float
        What its settings record, on any common scale.
    shift : (right, down)
        Tiles, on any common scale.
    """

    image: TileImage
    settings_stops: float
    shift: tuple[float, float]


@dataclass(frozen=True, slots=True, eq=False)
class Attenuation:
    """What was measured of a frame against what others say it should have recorded.

    Parameters
    ----------
    stops : dict
        Colour to stops held back; colours that cannot be told are absent.
    core : Core
        Of the main colour (green): value, spread, tiles.
    overlap : float
        Share of the frame's tiles that all record between floor and saturation.
    uneven_stops : float
        How far the parts of the picture disagree: a filter holds back evenly, a cloud does not.
    tiles : array of float32, shape (rows, cols)
        Stops held back in the main colour, tile by tile; NaN where unknown.
    """

    stops: dict[str, float]
    core: Core
    overlap: float
    uneven_stops: float
    tiles: F32

    @property
    def main(self) -> float:
        """Stops of the main colour."""
        return self.core.value


def measure_attenuation(
    frame: AlignedFrame, others: Sequence[tuple[AlignedFrame, float]], rows: slice | None = None
) -> Attenuation | None:
    """Measure by how much a frame got less light than the weighted mean of others tells.

    Formula per tile and colour: ``Σ w (log2 signal - settings) - (log2 signal - settings)``,
    then the half-sample mode over static tiles. The cast is taken as the difference

    Parameters
    ----------
    frame : AlignedFrame
    others : sequence of (AlignedFrame, weight)
        Weights sum to 1.
    rows : slice or None
        Rows of tiles to look at; all by default.

    Returns
    -------
    Held or None
        None where too little is well recorded by all.
    """
    green, floors = _main_difference(frame, others, rows)
    overlap = float(np.isfinite(green).mean())
    green = _still(green, _moved(frame, [other for other, _ in others]))
    if rows is not None:
        green = _only(green, rows)
    core = half_sample_mode(green)
    if core is None:
        return None
    near = np.abs(green - core.value) <= max(0.08, 2.0 * core.spread)
    stops = {}
    for colour, name in enumerate(frame.image.colours):
        cast: float | None = 0.0
        if colour != frame.image.main:
            cast = _cast(_difference(frame, others, colour, floors) - green, near)
        if cast is not None:
            stops[name] = core.value + cast
    return Attenuation(stops, core, overlap, _unevenness(green), green)


def _main_difference(
    frame: AlignedFrame, others: Sequence[tuple[AlignedFrame, float]], rows: slice | None
) -> tuple[F32, float]:
    """Return the main colour's stops held back, and the noise floors it was trusted from."""
    for floors in FLOORS:
        green = _difference(frame, others, frame.image.main, floors)
        asked = green if rows is None else green[rows]
        if int(np.isfinite(asked).sum()) >= ENOUGH_TILES:
            break
    return green, floors


def _still(green: F32, moved: Bool) -> F32:
    """Leave out what moved, unless hardly anything would be left."""
    still = np.where(moved, np.float32(np.nan), green)
    enough = int(np.isfinite(still).sum()) >= LEAST_STILL
    return still if enough else green


def _cast(difference: F32, near: Bool) -> float | None:
    core = half_sample_mode(difference[near])
    return None if core is None else core.value


def _difference(
    frame: AlignedFrame, others: Sequence[tuple[AlignedFrame, float]], colour: int, floors: float
) -> F32:
    """Return stops held back, tile by tile; NaN where any fails to record.

    All are brought to a place half-way between, so that a shift by a part of a tile softens
    the frame and the others alike.
    """
    grid = _half_way(frame, [other for other, _ in others])
    own = _onto(frame, grid, colour, floors)
    expected = np.zeros_like(own)
    for other, weight in others:
        expected = expected + np.float32(weight) * _onto(other, grid, colour, floors)
    return expected - own


def _half_way(frame: AlignedFrame, others: Sequence[AlignedFrame]) -> tuple[float, float]:
    right = sum(other.shift[0] for other in others) / len(others)
    down = sum(other.shift[1] for other in others) / len(others)
    apart = max(abs(right - frame.shift[0]), abs(down - frame.shift[1]))
    if apart < STEADY_TILES:
        return right, down
    return (right + frame.shift[0]) / 2.0, (down + frame.shift[1]) / 2.0


def _onto(seen: AlignedFrame, grid: tuple[float, float], colour: int, floors: float) -> F32:
    """Return a frame's stops less its settings, moved by parts of tiles onto a grid."""
    right, down = seen.shift[0] - grid[0], seen.shift[1] - grid[1]
    if max(abs(right), abs(down)) < STEADY_TILES:
        return seen.image.stops(colour, floors) - np.float32(seen.settings_stops)
    signal = seen.image.signal_dn[colour]
    least = max(floors * seen.image.floor_dn[colour], 1e-3)
    signal = np.where(signal >= least, signal, np.float32(np.nan))
    moved = ndimage.shift(signal, (-down, -right), order=1, mode="constant", cval=np.nan)
    stops: F32 = np.log2(moved) - np.float32(seen.settings_stops)
    return stops


def _moved(frame: AlignedFrame, others: Sequence[AlignedFrame]) -> Bool:
    """Tell where fine detail came or went: water that flowed, leaves that shook."""
    moved = np.zeros(frame.image.shape, dtype=bool)
    own = _structure(frame.image)
    for other in others:
        right, down = (round(a - b) for a, b in zip(other.shift, frame.shift, strict=True))
        theirs = _rolled(_structure(other.image), -down, -right)
        highest, lowest = np.fmax(own, theirs), np.fmin(own, theirs)
        speaks = highest >= np.sqrt(DETAIL_SPEAKS**2 - 1.0)
        with np.errstate(invalid="ignore"):
            moved |= speaks & (highest > DETAIL_CHANGE * np.maximum(lowest, 0.05))
    return moved


def _structure(image: TileImage) -> F32:
    """Fine detail with the noise taken out of it, against the square root of the signal.

    Detail is noise-normalised, so the same structure shows more of it the more light there is:
    as the square root, where shot noise rules.
    """
    detail = image.detail.astype(np.float32)
    signal = np.maximum(image.signal_dn[image.main], image.floor_dn[image.main])
    structure = np.sqrt(np.maximum(detail**2 - 1.0, 0.0))
    level = np.sqrt(signal * (8.0 / image.room_dn[image.main]))
    return np.asarray(structure / level, dtype=np.float32)


def _rolled(picture: F32, down: int, right: int) -> F32:
    rolled: F32 = np.roll(picture, (down, right), axis=(0, 1))
    return rolled


def _only(picture: F32, rows: slice) -> F32:
    kept = np.full_like(picture, np.nan)
    kept[rows] = picture[rows]
    return kept


def _unevenness(green: F32) -> float:
    """Return the spread of the block medians, from the tenth to the ninetieth part of them.

    Only blocks that agree with themselves are asked: waves scatter, but a part of the picture
    on which the sun went in changes as one.
    """
    rows, cols = (max(1, n // UNEVEN_BLOCK) for n in green.shape)
    high, wide = green.shape[0] // rows, green.shape[1] // cols
    blocks = green[: rows * high, : cols * wide].reshape(rows, high, cols, wide)
    flat = blocks.swapaxes(1, 2).reshape(rows * cols, high * wide)
    flat = flat[np.isfinite(flat).sum(axis=1) >= 0.3 * flat.shape[1]]
    if len(flat) < 3:
        return 0.0
    middles = np.nanmedian(flat, axis=1)
    scatter = np.nanmedian(np.abs(flat - middles[:, None]), axis=1)
    firm = middles[scatter <= FIRM_STOPS]
    if len(firm) < 3:
        return 0.0
    low, top = np.percentile(firm, [10, 90])
    return float(top - low)
