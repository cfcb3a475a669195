"""Where the sky ends: a straight line over the picture, that rocks and trees may break.

In each column of tiles the sky ends at its first clear drop of brightness below which nothing is
as bright again: clouds have brighter sky under them, water mirrors no more than what it mirrors.
The columns then vote for a line; drops further down a column count half, a quarter ... as much.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache, reduce
from typing import Any
from weakref import WeakKeyDictionary

import numpy as np
from numpy.typing import NDArray

from auditor.group.limits import (
    COLUMN_DROP_STOPS,
    FRAMES_AGREE,
    FULL_DROP_STOPS,
    HIGHEST_LINE,
    LEVEL_BELOW,
    LINE_AGREE,
    LINES_ALIKE,
    LOWEST_LINE,
    OPEN_BELOW,
    RISES_AGAIN_STOPS,
    STEEPEST_LINE,
)
from auditor.group.tile_image import TileImage
from auditor.model.arrays import F32, F64, I64, Bool, median_of
from auditor.model.rejected import Reason, Why

NEAR_LINE = 0.06
"""Share of the height above and below the line in which the picture is brighter and darker."""


NEAR_LINE_TILES, CLOSE_TILES = 4.0, 0.5
"""Drops so far off a rough line are asked where exactly it lies; so near they agree on it."""

TILTS = 17
"""Lines tried at each height, from falling to rising."""

LEVEL_TRUST = 0.01
"""Votes that a line must gain for each tile that it is aslant: tripods stand level."""

WAVE_TILES, COLUMN_TILES = 9, 3
"""Tiles across that are averaged: for what lies below, so that single waves do not count, and for
the drop itself."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Horizon:
    """The line along which the sky ends.

    Parameters
    ----------
    left, right : float
        Rows of tiles from the top at the picture's left and right edge.
    support : float
        Share of the columns whose sky ends on it: what is missing to 1 is broken by rocks or trees.
    rows : int
        Rows of tiles of the picture.
    """

    left: float
    right: float
    support: float
    rows: int

    @property
    def middle(self) -> float:
        """Its row in the middle of the picture."""
        return (self.left + self.right) / 2.0

    def lower(self, tiles: float) -> Horizon:
        """Return it moved down."""
        return replace(self, left=self.left + tiles, right=self.right + tiles)

    def above(self, cols: int) -> Bool:
        """Tell the tiles whose middle lies above it, shape (rows, cols)."""
        line = self.left + (self.right - self.left) * (np.arange(cols) + 0.5) / cols
        return np.asarray(np.arange(self.rows)[:, None] + 0.5 < line)


_FOUND: WeakKeyDictionary[TileImage, Horizon | Why] = WeakKeyDictionary()
"""Lines that were sought, as long as their pictures are there: pairs and skies ask for the same."""


def find_horizon(image: TileImage) -> Horizon | Why:
    """Fit the line where the sky ends to the columns of one picture.

    Blown tiles count as saturated: a blown sky is at least so bright.

    Returns
    -------
    Horizon or Why
        Why not: ``Reason.NO_EDGE`` where the upper part is not the brighter one,
        ``Reason.SKY_BELOW`` where the line is the top of a headland, else
        ``Reason.COLUMNS_DISAGREE`` with the share of the columns that the best line got.
    """
    if image not in _FOUND:
        _FOUND[image] = _line_in(filled_stops(image))
    return _FOUND[image]


def known_lines(images: Iterable[TileImage]) -> list[Horizon | Why | None]:
    """Return the lines that were sought already; None for a picture that was not asked."""
    return [_FOUND.get(image) for image in images]


def with_known_lines(known: Iterable[tuple[TileImage, Horizon | Why | None]]) -> None:
    """Take over what :func:`known_lines` told of the same pictures, elsewhere."""
    _FOUND.update({image: line for image, line in known if line is not None})


def _line_in(stops: F32) -> Horizon | Why:
    rows = stops.shape[0]
    least_rows = 12  # a picture of fewer tiles is not asked
    if rows < least_rows:
        return Why(Reason.NO_EDGE)
    ends, votes = _sky_ends(stops)
    tilts, at = _lines(*votes.shape)
    near = _over_near(np.maximum, votes, 3, axis=0)
    shares = near.ravel().take(at).mean(axis=2)  # of the columns that vote for each line
    row, tilt = np.unravel_index(np.argmax(shares - LEVEL_TRUST * np.abs(tilts)), shares.shape)
    left, right = (row + 0.5 + half * tilts[tilt] for half in (-0.5, 0.5))
    share = float(shares[row, tilt])
    stay = 0.7  # of the columns that vote for a line so many must lie on it when it is fitted
    # where the sky of a column ends so far below a line, it goes on below it
    below_line_tiles = 2.5
    if share >= LINE_AGREE:
        fitted = _fitted(stops, ends, left, right)
        # by how much the sky of each column ends below the line: where most end above it, water
        # as bright as the sky was taken for it; where some go on below, the line is the top of a
        # headland or of trees, that may stand before half of the horizon
        across = (np.arange(ends.shape[1]) + 0.5) / ends.shape[1]
        under = ends.argmax(axis=0) - fitted.left - (fitted.right - fitted.left) * across
        under[~ends.any(axis=0)] = 0.0
        above = float((under < -NEAR_LINE_TILES).mean())
        deep = under > below_line_tiles
        below = float(deep.mean())
        # the sea's own line beside a headland: from one edge of the picture on, and on one level
        one_level_tiles = 1.5  # columns whose sky ends so near the others' end on one level
        off = np.abs(under - (np.median(under[deep]) if below else 0.0))
        level = deep & (off <= one_level_tiles)
        beside = max(level.argmin(), level[::-1].argmin()) / level.size
        whole = fitted.support >= stay * LINE_AGREE and 1.0 - above >= LINE_AGREE
        if whole and _parts(stops, fitted):
            if below >= OPEN_BELOW:
                return Why(Reason.SKY_BELOW, below, float(OPEN_BELOW))
            if beside >= LEVEL_BELOW:
                return Why(Reason.SKY_BELOW, beside, float(LEVEL_BELOW))
            return fitted
        share = min(share, fitted.support, 1.0 - above)
    part = rows // 4
    if float(median_of(stops[:part]) - median_of(stops[-part:])) < COLUMN_DROP_STOPS:
        return Why(Reason.NO_EDGE)  # a wall, or a foreground as bright as the sky
    return Why(Reason.COLUMNS_DISAGREE, share, float(LINE_AGREE))


def common_horizon(found: Sequence[tuple[Horizon | Why, float]]) -> Horizon | Why:
    """Return the line on which pictures of one composition agree, as it lies in the first.

    Parameters
    ----------
    found : sequence of (Horizon or Why, float)
        What each picture showed, and by how many tiles it lies lower than the first.

    Returns
    -------
    Horizon or Why
        The median of the largest group of lines that lie within ``LINES_ALIKE`` of each other: at
        least half of all lines, and of a quarter of the pictures. A line that no second picture
        shows must be whole enough to be believed alone.
    """
    lines = [one.lower(-down) for one, down in found if isinstance(one, Horizon)]
    groups = [
        [other for other in lines if abs(other.middle - one.middle) <= one.rows * LINES_ALIKE]
        for one in lines
    ]
    best = max(groups, key=lambda group: sum(one.support for one in group), default=[])
    alone = len(best) == 1 and best[0].support < LINE_AGREE
    whys = [one for one, _ in found if isinstance(one, Why)]
    other_lines = [why for why in whys if why.reason is Reason.SKY_BELOW]
    few = 2 * len(best) < len(lines) + len(other_lines)
    few = few or len(best) < FRAMES_AGREE * len(found)
    if best and not alone and not few:
        left, right, support = np.median([(o.left, o.right, o.support) for o in best], axis=0)
        return replace(best[0], left=left, right=right, support=support)
    if lines or any(why.reason is not Reason.NO_EDGE for why in whys):
        return Why(Reason.COLUMNS_DISAGREE)
    return Why(Reason.NO_EDGE)


def _parts(stops: F32, line: Horizon) -> bool:
    """Tell whether a line parts bright from dark: in a wall of rock drops are found at any."""
    cols, near = stops.shape[1], line.rows * NEAR_LINE
    above = line.above(cols)
    sky = above & ~line.lower(-near).above(cols)
    ground = ~above & line.lower(near).above(cols)
    if not sky.any() or not ground.any():
        return False
    return float(median_of(stops[sky]) - median_of(stops[ground])) >= COLUMN_DROP_STOPS


def filled_stops(image: TileImage) -> F32:
    """Return stops of the main colour, blown tiles at saturation, unlit ones at the floor."""
    signal = image.signal(image.main)
    signal = np.where(np.isnan(signal), np.float32(image.room_dn[image.main]), signal)
    return np.log2(np.maximum(signal, np.float32(image.floor_dn[image.main])))


def _sky_ends(stops: F32) -> tuple[Bool, F32]:
    """Tell the tiles at which a column may pass from sky to something else, and what each counts.

    Both of shape (rows, cols).
    """
    rows = stops.shape[0]
    smooth = _over_near(np.add, stops, COLUMN_TILES, axis=1) / np.float32(COLUMN_TILES)
    padded = smooth.take(np.arange(-2, rows + 2), 0, mode="clip")
    above = (padded[:rows] + padded[1 : rows + 1]) / 2.0
    drop = above - (padded[3 : rows + 3] + padded[4:]) / 2.0
    calm = _over_near(np.add, _over_near(np.add, stops, 3, axis=0), WAVE_TILES, axis=1)
    calm /= np.float32(3 * WAVE_TILES)
    brightest_below = np.full_like(stops, -np.inf)
    brightest_below[:-3] = np.maximum.accumulate(calm[::-1], axis=0)[::-1][3:]
    ends: Bool = (
        (drop >= COLUMN_DROP_STOPS)
        & (drop >= _over_near(np.maximum, drop, 5, axis=0))
        & (brightest_below <= above + RISES_AGAIN_STOPS)
    )
    at = (np.arange(rows) + 0.5) / rows
    ends[(at < HIGHEST_LINE) | (at > LOWEST_LINE)] = False
    full = np.minimum(1.0, drop / FULL_DROP_STOPS)
    votes = np.where(ends, full * 0.5 ** (np.cumsum(ends, axis=0) - 1.0), 0.0)
    return ends, votes.astype(np.float32)


def _over_near(how: np.ufunc, values: NDArray[Any], size: int, *, axis: int) -> NDArray[Any]:
    """Return the sum or the greatest of so many values around each, along one axis.

    Every frame is asked for its horizon: loading a library of images for it takes longer.
    """
    count = values.shape[axis]
    # beyond an edge it is seen as in a mirror, and that in the other edge's
    at = np.arange(-(size // 2), count + size - 1 - size // 2) % (2 * count)
    around = values.take(np.minimum(at, 2 * count - 1 - at), axis)
    before = (slice(None),) * axis
    return reduce(how, (around[(*before, slice(n, n + count))] for n in range(size)))


@lru_cache(maxsize=4)
def _lines(rows: int, cols: int) -> tuple[F64, I64]:
    """Return the tilts of the lines that are tried, and the tiles that each runs through.

    The tiles by their place in the picture, shape (rows, tilts, cols): alike for all frames of
    one size.
    """
    tilts = np.linspace(-STEEPEST_LINE * cols, STEEPEST_LINE * cols, TILTS)
    across = (np.arange(cols) + 0.5) / cols - 0.5
    at = np.rint(np.arange(rows)[:, None, None] + tilts[:, None] * across).astype(np.int64)
    return tilts, np.clip(at, 0, rows - 1) * cols + np.arange(cols)


def _fitted(stops: F32, ends: Bool, left: float, right: float) -> Horizon:
    """Fit the line to parts of tiles: where most columns lie within half a tile of it.

    Headlands stand over the line and fall towards it at one side; a tripod that is not level
    tilts both halves of the picture alike, and only then the line is tilted.
    """
    rows, cols = stops.shape
    middle, rise = (left + right) / 2.0, right - left
    across = (np.arange(cols) + 0.5) / cols - 0.5
    off = np.abs(np.arange(rows)[:, None] + 0.5 - middle - rise * across)
    off = np.where(ends, off, np.inf)
    near = np.flatnonzero(off.min(axis=0) <= NEAR_LINE_TILES)
    below = np.clip(off.argmin(axis=0)[near] + np.arange(-1, 3)[:, None], 1, rows - 1)
    falls = np.maximum(0.0, stops[below - 1, near] - stops[below, near]) + 1e-6
    # within the tiles about a drop: the mean place of its fall
    at, edges = across[near], np.average(below, axis=0, weights=falls)
    rises = np.append(rise + np.arange(-4.0, 4.5, 0.5), 0.0)
    moves = np.arange(-NEAR_LINE_TILES, NEAR_LINE_TILES, 0.125)
    missed = (edges - middle - rises[:, None] * at).astype(np.float32)
    close = np.exp(-(((missed - moves[:, None, None].astype(np.float32)) / CLOSE_TILES) ** 2))
    close = close.sum(axis=2)
    best = int(np.argmax(close.max(axis=0)))
    # at the end of what is tried: the line is steeper still, and nothing tells by how much
    steeper = best in (0, len(rises) - 2) and abs(rises[best]) > STEEPEST_LINE * cols
    halves = []  # rows gained over the width of the picture: the median over pairs of columns
    for part in (at < 0, at >= 0):
        to_right, down = (values[part] - values[part][:, None] for values in (at, edges))
        far = to_right > 0.1
        halves.append(float(np.median(down[far] / to_right[far])) if far.any() else np.inf)
    if any(abs(half - rises[best]) > max(1.0, abs(rises[best]) / 3.0) for half in halves):
        best = len(rises) - 1
    middle += float(moves[int(np.argmax(close[:, best]))])
    half = float(rises[best]) / 2.0
    on_line_tiles = 1.5  # a drop this near to a line lies on it
    on = np.abs(edges - middle - 2.0 * half * at) <= on_line_tiles
    support = 0.0 if steeper else float(on.sum()) / cols
    return Horizon(left=middle - half, right=middle + half, support=support, rows=rows)
