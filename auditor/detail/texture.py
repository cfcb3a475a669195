"""Fine detail, measured in noise: 1 is noise alone, more is texture that is sharp."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from auditor.black.levels import PlaneBlack
from auditor.detail.limits import SHARP_SHARE, SHARP_TILES, SOME_DETAIL
from auditor.model.arrays import F32, F64, I64, Bool
from auditor.model.codes import Layout
from auditor.model.mosaic import PLANE_NAMES
from auditor.noise.blocks import QuadPlan, black_at, plan_quads
from auditor.noise.estimate import NoiseModel
from auditor.sensor.lattice import SensorLattice

DIFFERENCES = 40
"""About so many in each direction tell the detail of a tile; in larger tiles rows are left out."""

CHUNK_ROWS = 64


def detail_plane(layout: Layout) -> int:
    """Return the plane on which detail is measured: green, or the only one."""
    names = PLANE_NAMES[layout]
    return next((i for i, name in enumerate(names) if name in ("G", "G1")), 0)


@dataclass(frozen=True, slots=True, eq=False)
class GreenView:
    """What detail is measured on.

    Parameters
    ----------
    mean_dn : array of float32, shape (rows, cols)
        Mean signal of the plane per tile.
    """

    lattice: SensorLattice
    plane: int
    black: PlaneBlack
    noise: NoiseModel
    mean_dn: F32
    tile_px: int


def detail_map(view: GreenView) -> F32:
    """Measure fine detail per tile.

    The standard deviation of differences between same-coloured neighbours, beside and below
    one another, over what the noise alone gives at the tile's mean, ``sqrt(2) sigma(S)``.

    Returns
    -------
    array of float32, shape (rows, cols)
        NaN where the noise is not known.
    """
    shape = view.mean_dn.shape
    plan = plan_quads(view.lattice, view.plane)
    if not view.noise.known or plan is None:
        return np.full(shape, np.nan, dtype=np.float32)
    squares, counts = np.zeros(shape), np.zeros(shape)
    anchors = plan.anchors
    if 2 * _per_tile(plan, len(anchors), view.tile_px) < DIFFERENCES:
        anchors = plan.overlapping
    for anchor in anchors:
        rows, cols = _lattice(view, anchor, plan)
        for start in range(0, len(rows), CHUNK_ROWS) if len(cols) else ():
            part = rows[start : start + CHUNK_ROWS]
            both = _differences(view, part, cols, plan)
            _add_by_tile(both, (part, cols), view.tile_px, squares, counts)
    alone = 2.0 * np.square(view.noise.sigma_dn(view.mean_dn))
    with np.errstate(invalid="ignore", divide="ignore"):
        detail = np.sqrt(squares / (2.0 * counts) / alone)
    return np.where((counts > 0) & (alone > 0.0), detail, np.nan).astype(np.float32)


def sharpness(detail: F32, usable: Bool) -> float | None:
    """Return the upper quartile of the detail over the tiles that hold some.

    Parameters
    ----------
    detail : array of float32, shape (rows, cols)
    usable : array of bool, shape (rows, cols)
        Tiles that count: nothing in them is over the cut.

    Returns
    -------
    float or None
        None where hardly more tiles hold detail than noise alone would show by chance.
    """
    known = detail[usable & np.isfinite(detail)]
    some = known[known >= SOME_DETAIL]
    if len(some) < max(SHARP_TILES, SHARP_SHARE * len(known)):
        return None
    return float(np.quantile(some, 0.75))


def _per_tile(plan: QuadPlan, anchors: int, tile_px: int) -> float:
    """Quads in a tile."""
    return (tile_px / plan.period[0]) * (tile_px / plan.period[1]) * anchors


def _lattice(view: GreenView, anchor: tuple[int, int], plan: QuadPlan) -> tuple[range, range]:
    """Rows and columns of the first pixels of all differences of one anchor."""
    height, width = view.lattice.pixels.shape
    down, across = plan.period
    spare = int(_per_tile(plan, len(plan.anchors), view.tile_px) // DIFFERENCES)
    every = max(1, min(spare, view.tile_px // down))
    left = anchor[1] + (across if plan.down[1] < 0 else 0)
    right = max(plan.across[1], plan.down[1])
    rows = range(anchor[0], height - plan.down[0], down * every)
    return rows, range(left, width - right, across)


def _differences(view: GreenView, rows: range, cols: range, plan: QuadPlan) -> F32:
    """Squared differences to the neighbour beside and to the one below, added; black taken off."""
    values: list[F32] = []
    for down, across in ((0, 0), plan.across, plan.down):
        y, x = rows.start + down, cols.start + across
        part = view.lattice.pixels[
            y : rows.stop + down : rows.step, x : cols.stop + across : cols.step
        ]
        kept = part[: len(rows), : len(cols)].astype(np.float32)
        values.append(kept - np.float32(black_at(view.black, (y, x))))
    first, beside, below = values
    both: F32 = (first - beside) ** 2 + (first - below) ** 2
    return both


def _add_by_tile(
    values: F32, lattice: tuple[range, range], tile_px: int, sums: F64, counts: F64
) -> None:
    """Add up the values of a lattice, and their number, in the tiles they fall into."""
    tile_rows, row_starts = _tiles(lattice[0], tile_px)
    tile_cols, col_starts = _tiles(lattice[1], tile_px)
    by_rows = _added_rows(values, row_starts)
    place = np.ix_(tile_rows, tile_cols)
    sums[place] += np.add.reduceat(by_rows, col_starts, axis=1)
    tall = np.diff([*row_starts.tolist(), len(lattice[0])])
    wide = np.diff([*col_starts.tolist(), len(lattice[1])])
    counts[place] += np.outer(tall, wide)


def _added_rows(values: F32, starts: I64) -> F32:
    """Add up the rows from each start to the next: whole rows, where ``reduceat`` takes pixels."""
    counts = np.diff(starts, append=len(values))
    others = np.zeros((len(starts), values.shape[1]), np.float32)
    for row in range(1, int(counts.max(initial=0))):
        more = np.flatnonzero(counts > row)
        others[more] += values[starts[more] + row]
    total: F32 = values[starts] + others
    return total


def _tiles(positions: range, tile_px: int) -> tuple[I64, I64]:
    """Tiles that positions fall into, and where each tile's positions begin."""
    return np.unique(np.asarray(positions) // tile_px, return_index=True)
