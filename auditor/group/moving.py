"""Water and leaves: where something moved between frames, and what the light of it still tells."""

from __future__ import annotations

import numpy as np

from auditor.group.aligned import Comparison
from auditor.group.limits import DEEP_FLOORS, DETAIL_CHANGE, DETAIL_SPEAKS
from auditor.group.tile_image import TileImage
from auditor.model.arrays import F32, F64, MAD_TO_SIGMA, Bool, median_known
from auditor.model.half_sample_mode import Core, half_sample_mode


def moved_tiles(pair: Comparison) -> Bool:
    """Tell where fine detail came or went: water that flowed, leaves that shook."""
    moved = np.zeros(pair.frame.image.shape, dtype=bool)
    own = _structure(pair.frame.image)
    for other, _ in pair.others:
        right, down = (round(a - b) for a, b in zip(other.shift, pair.frame.shift, strict=True))
        theirs = np.roll(_structure(other.image), (-down, -right), axis=(0, 1))
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
    signal = np.maximum(image.signal(image.main), image.floor_dn[image.main])
    structure = np.sqrt(np.maximum(detail**2 - 1.0, 0.0))
    level = np.sqrt(signal * (8.0 / image.room_dn[image.main]))
    return np.asarray(structure / level, dtype=np.float32)


def filled(pair: Comparison, green: F32, moved: Bool) -> F32:
    """Return stops held back with what moved taken by rows, and dark rows by their tiles' means.

    A wave is here in one frame and there in the other, but over whole rows the light of water is
    the same: the ratio of the sums is asked, which a logarithm of each tile would bend. The mean
    of a tile's pixels is known far better than one pixel's noise.
    """
    from scipy import ndimage  # noqa: PLC0415 - slow to load, and a lone frame needs none

    main = pair.frame.image.main
    own, each = pair.frame.onto(pair.grid, main, DEEP_FLOORS), pair.each(main, DEEP_FLOORS)
    rows_known = np.isfinite(green).sum(axis=1) >= green.shape[1] / 12.0
    whole = np.where(rows_known[:, None], green, pair.mean(each) - own).astype(np.float32)
    water = moved & np.isfinite(whole)
    if not water.any():
        return whole

    water_rows = 3  # rows of tiles over which the light of moving water is summed

    def of_rows(stops: F32) -> F64:
        light = np.where(water, np.exp2(stops), 0.0).sum(axis=1)
        near = ndimage.uniform_filter1d(light, water_rows)
        return np.asarray(np.log2(np.maximum(near, 1e-30)))

    lit = sum(weight * of_rows(part) for part, (_, weight) in zip(each, pair.others, strict=True))
    enough = ndimage.uniform_filter1d(water.sum(axis=1).astype(np.float64), water_rows) >= 4.0
    by_row = np.where(enough, lit - of_rows(own), np.nan).astype(np.float32)
    return np.where(water, by_row[:, None], whole)


def core_of_rows(tiles: F32) -> Core | None:
    """Return the mean of the middle half of the rows' values, for water: waves scatter evenly."""
    rows = np.sort(median_known(tiles[np.isfinite(tiles).any(axis=1)], axis=1))
    # rows of water from which their mean is taken, not what most tiles agree on
    least_water_rows = 8
    if len(rows) < least_water_rows:
        return half_sample_mode(tiles)
    middle = float(rows[len(rows) // 4 : -(len(rows) // 4)].mean())
    spread = max(1e-3, MAD_TO_SIGMA * float(np.median(np.abs(rows - middle))))
    known = tiles[np.isfinite(tiles)]
    near = np.abs(known - middle) <= max(3.0 * spread, 0.05)
    return Core(middle, spread, int(near.sum()), known.size)
