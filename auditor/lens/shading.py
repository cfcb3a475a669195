"""Lens shading: how much darker the corners are than the centre, where the scene tells it.

A lens lights its corners less than its centre (ISO 17957 calls it shading; cos⁴ of the field angle
is its natural part). Only a scene of even light shows it alone. So a smooth scene is fitted, in
stops over blocks of tiles: a slope for light that falls off to one side, a saddle for a scene that
is curved in one direction only, and a part that depends on the distance from the centre alone,
which is the lens. Blocks that do not follow are left out. Where too many do not, where a corner
is missing, or where the scene itself is curved or glows about its centre, nothing is told.

``log2 S = c + a x + b y + d (x² - y²) + e x y + k1 r² + k2 r⁴``, r = 1 in the corner.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from auditor.lens.limits import (
    CORNER_SHARE,
    LEAST_BLOCKS,
    LEAST_FOLLOWING,
    LEAST_SIGNAL_DN,
    MOST_BRIGHTER_STOPS,
    MOST_SADDLE_STOPS,
    MOST_SCATTER_STOPS,
    MOST_SLOPE_STOPS,
    SMALL_STOPS,
    STEEP_SHARE,
)
from auditor.model.arrays import F32, F64, MAD_TO_SIGMA, Bool
from auditor.model.optics import LensShading, NoShading

BLOCK_TILES = 6
"""Tiles along each side of a block."""


@dataclass(frozen=True, slots=True)
class ShadingView:
    """What lens shading is measured on.

    Parameters
    ----------
    mean_dn : array of float32, shape (rows, cols)
        Mean signal of the green plane, or the only one, per tile.
    clean : array of bool, shape (rows, cols)
        Tiles in which nothing clips.
    tile_px, width, height : int
    """

    mean_dn: F32
    clean: Bool
    tile_px: int
    width: int
    height: int


def measure_shading(view: ShadingView) -> LensShading:
    """Measure how much darker the corners are than the centre."""
    blocks = _blocks(view)
    if blocks is None:
        return LensShading(reason=NoShading.TOO_SMALL)
    level, x, y = blocks
    usable = np.isfinite(level)
    if usable.mean() < LEAST_FOLLOWING:
        dark = float((view.mean_dn < LEAST_SIGNAL_DN).mean()) > 1.0 - LEAST_FOLLOWING
        return LensShading(reason=NoShading.DARK if dark else NoShading.CLIPPED)
    radius = np.hypot(x, y)
    terms = np.stack([np.ones_like(x), x, y, x**2 - y**2, x * y, radius**2, radius**4], axis=-1)
    following, factors, scatter = _fitted(level, terms, usable)
    corners = [(x * right > 0) & (y * down > 0) for right in (-1, 1) for down in (-1, 1)]
    places = [radius < 0.25, *((radius > 0.75) & one for one in corners)]
    covered = all(following[place].mean() >= CORNER_SHARE for place in places)
    if scatter > MOST_SCATTER_STOPS or following.mean() < LEAST_FOLLOWING or not covered:
        return LensShading(reason=NoShading.SCENE)
    saddle = float(np.hypot(factors[3], factors[4])) / 2.0
    slope = 2.0 * float(np.hypot(factors[1] * x.max(), factors[2] * y.max()))
    corner = float(factors[5] + factors[6])
    half_way = float(factors[5] / 4.0 + factors[6] / 16.0)
    # the shading of a lens gathers towards the corner, a glow about the centre does not
    small = corner > -SMALL_STOPS
    of_a_lens = corner <= MOST_BRIGHTER_STOPS if small else half_way / corner <= STEEP_SHARE
    if slope > MOST_SLOPE_STOPS or saddle > MOST_SADDLE_STOPS or not of_a_lens:
        return LensShading(reason=NoShading.LIGHT)
    own = terms[following]
    spread = np.linalg.inv(own.T @ own)[5:, 5:].sum() * scatter**2
    return LensShading(corner_stops=corner, error_stops=float(np.hypot(np.sqrt(spread), saddle)))


def _blocks(view: ShadingView) -> tuple[F64, F64, F64] | None:
    """Return the level of each block in stops, not a number where it clips, and its place."""
    whole = (view.height // view.tile_px, view.width // view.tile_px)
    rows, cols = (side // BLOCK_TILES for side in whole)
    if min(rows, cols) < LEAST_BLOCKS:
        return None
    top, left = ((side - n * BLOCK_TILES) // 2 for side, n in zip(whole, (rows, cols), strict=True))
    part = (slice(top, top + rows * BLOCK_TILES), slice(left, left + cols * BLOCK_TILES))
    split = (rows, BLOCK_TILES, cols, BLOCK_TILES)
    tiles = view.mean_dn[part].astype(np.float64).reshape(split)
    clean = view.clean[part].reshape(split).all(axis=(1, 3))
    level = np.median(tiles.transpose(0, 2, 1, 3).reshape(rows, cols, -1), axis=2)
    clean &= level >= LEAST_SIGNAL_DN
    half = np.hypot(view.width, view.height) / 2.0
    along_y = (
        (top + (np.arange(rows) + 0.5) * BLOCK_TILES) * view.tile_px - view.height / 2
    ) / half
    along_x = (
        (left + (np.arange(cols) + 0.5) * BLOCK_TILES) * view.tile_px - view.width / 2
    ) / half
    y, x = np.meshgrid(along_y, along_x, indexing="ij")
    return np.log2(np.where(clean, level, np.nan)), x, y


def _fitted(level: F64, terms: F64, usable: Bool) -> tuple[Bool, F64, float]:
    """Fit the blocks that follow one another; return which, the factors, and their scatter."""
    following = usable
    factors: F64 = np.zeros(terms.shape[-1])
    scatter = np.inf
    for _ in range(8):  # two or three settle it
        factors = np.asarray(
            np.linalg.lstsq(terms[following], level[following], rcond=None)[0], float
        )
        left = np.abs(level - terms @ factors)
        scatter = max(MAD_TO_SIGMA * float(np.median(left[usable])), 1e-3)
        kept = usable & (left <= 3.0 * scatter)
        if (kept == following).all():
            break
        following = kept
    return following, factors, scatter
