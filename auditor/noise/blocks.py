"""Small blocks of same-coloured pixels: their mean, their fine noise, and how flat they are.

Four same-coloured neighbours ``a b / c d`` give three differences that are independent of one
another and of the mean when there is nothing but noise (the Haar transform)::

    level    = (a + b + c + d) / 4
    across   = (a - b + c - d) / 2
    down     = (a + b - c - d) / 2
    diagonal = (a - b - c + d) / 2        variance: that of one pixel

The diagonal difference is blind to any slope and to noise of whole rows; the other two say,
without touching it, whether the place is flat. Choosing flat places by them keeps texture out
of the noise and biases nothing.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from functools import cache

import numpy as np

from auditor.black.levels import PlaneBlack
from auditor.model.arrays import F32, F64, U16
from auditor.sensor.lattice import SensorLattice

BLOCK = 4
"""A block is 4 x 4 quads."""

SAMPLE_PIXELS = 2_500_000
"""So many pixels, spread over the height, tell the noise well enough."""

OVERLAPPED_WORTH = 1.0 / 2.25
"""In small pictures quads may overlap. Their squares are then correlated, by 1/4 with each quad
beside and 1/16 with each at a corner: ``(1 + 2/4)² = 2.25`` quads are worth one."""

BANDS_AT_ONCE = 6

Offset = tuple[int, int]


@dataclass(frozen=True, slots=True)
class QuadPlan:
    """Where the quads of a plane lie.

    Parameters
    ----------
    period : (rows, columns)
        After which the quads repeat.
    anchors : tuple of (row, column)
        First pixel of each quad within a period.
    overlapping : tuple of (row, column)
        All first pixels of quads within a period, those that share pixels included.
    across, down : (rows, columns)
        From the first pixel to its two neighbours; ``across`` stays in the row.
    """

    period: Offset
    anchors: tuple[Offset, ...]
    overlapping: tuple[Offset, ...]
    across: Offset
    down: Offset


@dataclass(frozen=True, slots=True, eq=False)
class Blocks:
    """Blocks of one plane, one value a block.

    Parameters
    ----------
    signal_dn : array of float32
        Mean, black subtracted.
    noise_dn2 : array of float32
        Mean square of the diagonal differences: the variance of one pixel.
    texture_variance_dn2 : array of float32
        Variance of the two other differences within the block, slopes taken out; equals
        ``noise_dn2`` where there is nothing but white noise.
    coarse_dn2 : array of float32
        Mean square of two diagonal differences of four neighbouring quads' sums, for one pixel:
        equals ``noise_dn2`` where the noise is white, and is blind to slopes as well.
    low_dn, top_dn : array of float32
        Smallest and largest raw DN.
    down, across : array of float32
        From the centre of the sensor, in halves of its diagonal.
    degrees_of_freedom : float
        Independent quads a block.
    lines_apart : float
        How far rows, or columns, that take turns lie apart, as a share of the signal, or of the
        noise where that is more: a scene has as many differences of either sign.
    """

    signal_dn: F32
    noise_dn2: F32
    texture_variance_dn2: F32
    coarse_dn2: F32
    low_dn: F32
    top_dn: F32
    down: F32
    across: F32
    degrees_of_freedom: float
    lines_apart: float = 0.0


def plan_quads(lattice: SensorLattice, plane: int) -> QuadPlan | None:
    """Find the closest quads of same-coloured pixels that fill a period without overlapping."""
    rows, cols = lattice.pattern.shape
    return _planned(tuple(lattice.places(plane)), rows, cols)


@cache
def _planned(of_plane: tuple[Offset, ...], rows: int, cols: int) -> QuadPlan | None:
    best: QuadPlan | None = None
    for repeats in (1, 2):
        places = {
            (y + rows * i, x + cols * j)
            for y, x in of_plane
            for i in range(repeats)
            for j in range(repeats)
        }
        best = _closest(places, (rows * repeats, cols * repeats))
        if best is not None and len(best.anchors) * 8 >= len(places):
            return best
    return best


def _closest(places: set[Offset], period: Offset) -> QuadPlan | None:
    steps = sorted(
        (
            ((0, across), (down, aside))
            for across in range(1, period[1] + 1)
            for down in range(1, period[0] + 1)
            for aside in range(-(period[1] // 2), period[1] // 2 + 1)
        ),
        key=lambda step: step[0][1] ** 2 + step[1][0] ** 2 + step[1][1] ** 2,
    )
    for across, down in steps:
        # places from which all four corners fall on the plane, each on a place of its own
        corners = _corners(across, down)
        quads = {
            (y, x): {((y + dy) % period[0], (x + dx) % period[1]) for dy, dx in corners}
            for y, x in sorted(places)
        }
        whole = tuple(place for place, quad in quads.items() if len(quad) == 4 and quad <= places)
        free, anchors = set(places), []
        for anchor in whole:
            if quads[anchor] <= free:
                anchors.append(anchor)
                free -= quads[anchor]
        if anchors:
            return QuadPlan(period, tuple(anchors), whole, across, down)
    return None


def _corners(across: Offset, down: Offset) -> tuple[Offset, ...]:
    return (0, 0), across, down, (across[0] + down[0], across[1] + down[1])


def sample_bands(lattice: SensorLattice, band_rows: int) -> U16:
    """Return bands of rows, evenly spread; a view of shape (bands, band_rows, width)."""
    height, width = lattice.pixels.shape
    count = height // band_rows
    every = max(1, height * width // SAMPLE_PIXELS)
    bands = lattice.pixels[: count * band_rows].reshape(count, band_rows, width)
    return bands[::every]


def measure_blocks(lattice: SensorLattice, plane: int, black: PlaneBlack) -> Blocks | None:
    """Measure the blocks of one plane; None where the picture is too small for any."""
    plan = plan_quads(lattice, plane)
    if plan is None:
        return None
    period = _common_period(plan, black)
    height, width = lattice.pixels.shape
    if height < BLOCK * period[0] or width < 2 * BLOCK * period[1]:
        return None
    bands = sample_bands(lattice, BLOCK * period[0])
    # how far down and across the blocks of each band lie, shape (2, bands, columns)
    half, block_px = np.hypot(height, width) / 2.0, BLOCK * period[1]
    down = ((np.arange(len(bands)) + 0.5) / len(bands) - 0.5) * height / half
    across = ((np.arange(width // block_px) + 0.5) * block_px - width / 2.0) / half
    places = np.stack(np.meshgrid(down, across, indexing="ij")).astype(np.float32)
    overlapped_share = 2  # of a picture not half as large as the sample all is taken, and more
    small = lattice.pixels.size * overlapped_share <= SAMPLE_PIXELS
    firsts = plan.overlapping if small else plan.anchors
    # first pixels within a period of colours and black levels together
    anchors = [
        (y + i, x + j)
        for y, x in firsts
        for i in range(0, period[0], plan.period[0])
        for j in range(0, period[1], plan.period[1])
    ]
    parts = [
        (anchor, *part)
        for start in range(0, len(bands), BANDS_AT_ONCE)
        for anchor in anchors
        for some in [np.s_[start : start + BANDS_AT_ONCE]]
        if (part := _anchor_blocks(bands[some], places[:, some], anchor, plan, black))
    ]
    if not parts:
        return None
    worth = 1.0 if len(firsts) == len(plan.anchors) else OVERLAPPED_WORTH
    return _joined(parts, worth)


def _joined(parts: list[tuple[Offset, Blocks, F64]], worth: float) -> Blocks:
    blocks = [own for _, own, _ in parts]
    columns = {
        field.name: np.concatenate([getattr(own, field.name) for own in blocks])
        for field in fields(Blocks)
        if field.name not in ("degrees_of_freedom", "lines_apart")
    }
    # quads that overlap begin on either of two lines: each start by itself
    starts = dict.fromkeys(anchor for anchor, _, _ in parts)
    apart = [
        np.mean([lines for own, _, lines in parts if own == anchor], axis=0) for anchor in starts
    ]
    noise = float(columns["noise_dn2"].mean(dtype=np.float64)) ** 0.5
    level = max(float(columns["signal_dn"].mean(dtype=np.float64)), noise)
    return Blocks(
        **columns,
        degrees_of_freedom=worth * min(own.degrees_of_freedom for own in blocks),
        lines_apart=float(np.abs(apart).mean(axis=0).max()) / level if level > 0 else 0.0,
    )


def _common_period(plan: QuadPlan, black: PlaneBlack) -> Offset:
    rows, cols = np.lcm(plan.period, black.pattern_dn.shape)
    return int(rows), int(cols)


def _anchor_blocks(
    bands: U16, places: F32, anchor: Offset, plan: QuadPlan, black: PlaneBlack
) -> tuple[Blocks, F64] | None:
    period = _common_period(plan, black)
    aside = period[1] if plan.down[1] < 0 else 0
    corners = _corners(plan.across, plan.down)
    spots = [(anchor[0] + dy, anchor[1] + dx + aside) for dy, dx in corners]
    views = [bands[:, y :: period[0], x :: period[1]] for y, x in spots]
    rows = min(view.shape[1] for view in views)
    cols = min(view.shape[2] for view in views) // BLOCK * BLOCK
    if rows < 2 or cols == 0:
        return None
    levels = [black_at(black, spot) for spot in spots]
    quads = [
        view[:, :rows, :cols].astype(np.float32) - np.float32(level)
        for view, level in zip(views, levels, strict=True)
    ]
    return _haar_blocks(quads, np.float32(np.mean(levels)), places[:, :, : cols // BLOCK])


def _haar_blocks(quads: list[F32], offset_dn: np.float32, places: F32) -> tuple[Blocks, F64]:
    """Transform four pictures of one corner each; see the head of this module.

    Also returns the mean difference of a quad's two columns, and of its two rows, in DN.
    """
    a, b, c, d = quads
    rows = a.shape[1]
    low = np.minimum(np.minimum(a, b), np.minimum(c, d))
    top = np.maximum(np.maximum(a, b), np.maximum(c, d))
    ab, cd, a_b, c_d = a + b, c + d, a - b, c - d
    sums = ab + cd
    share = np.float32(1.0 / (4.0 * rows * BLOCK))
    # the variance of a pixel as the sums of two times four quads tell it
    beside = sums[:, 0:2, 0::2] - sums[:, 0:2, 1::2]
    squares = (beside[:, 0] - beside[:, 1]) ** 2
    coarse_dn2 = (squares[:, 0::2] + squares[:, 1::2]) * np.float32(1.0 / 32.0)
    (across_dn2, across), (down_dn2, down) = _spread(a_b + c_d), _spread(ab - cd)
    return Blocks(
        signal_dn=pooled(sums, np.add).ravel() * share,
        noise_dn2=pooled((a_b - c_d) ** 2, np.add).ravel() * share,
        texture_variance_dn2=(across_dn2 + down_dn2).ravel() / np.float32(8.0),
        coarse_dn2=coarse_dn2.ravel(),
        low_dn=pooled(low, np.minimum).ravel() + offset_dn,
        top_dn=pooled(top, np.maximum).ravel() + offset_dn,
        down=places[0].ravel(),
        across=places[1].ravel(),
        degrees_of_freedom=rows * BLOCK,
    ), np.array([part.mean(dtype=np.float64) / 2.0 for part in (across, down)])


def black_at(black: PlaneBlack, spot: Offset) -> float:
    """Return the black level of the place that a (row, column) of the lattice falls on."""
    rows, cols = black.pattern_dn.shape
    return float(black.pattern_dn[spot[0] % rows, spot[1] % cols])


def pooled(values: F32, join: np.ufunc) -> F32:
    """Join the quads of each block; (bands, rows, columns) to (bands, columns / 4)."""
    rows = join.reduce(values, axis=1)
    pairs = join(rows[:, 0::2], rows[:, 1::2])
    blocks: F32 = join(pairs[:, 0::2], pairs[:, 1::2])
    return blocks


def _spread(values: F32) -> tuple[F32, F32]:
    """Variance and mean within each block."""
    count = np.float32(values.shape[1] * BLOCK)
    mean = pooled(values, np.add) / count
    spread = (pooled(values**2, np.add) - count * mean**2) / (count - np.float32(1.0))
    return spread.astype(np.float32, copy=False), mean
