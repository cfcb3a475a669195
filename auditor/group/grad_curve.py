"""The density of a graduated filter over the height, fitted to tiles that hold still."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from auditor.group.limits import EXPLAINED, GRAD_LEAST_STOPS, SEEN_ROWS
from auditor.model.arrays import F32, F64, MAD_TO_SIGMA, median_known

EDGES = tuple(0.08 + 0.06 * n for n in range(15))
WIDTHS = (0.01, 0.025, 0.05, 0.08, 0.13)
STARTS = 3

MOST_TILES = 1500
"""Tiles that the last fit looks at."""

ROW_ERROR_STOPS, TILE_ERROR_STOPS = 0.03, 0.03
"""What a row or a tile that holds still may be off by."""

NOISE_ROWS = 3
"""Rows of water this far apart have waves of their own."""


@dataclass(frozen=True, slots=True)
class Curve:
    """A logistic density over the height.

    ``D(y) = base + top (1 + e^(-edge/w)) / (1 + e^((y - edge)/w))``: ``base + top`` at y = 0,
    half of ``top`` (very nearly) at ``edge``; from 90 % to 10 % over ``2 ln 9 w``.

    Parameters
    ----------
    base : float
        Stops by which all of the picture was held back: another filter, or falling light.
    top : float
        Stops at the top of the picture beyond that.
    edge : float
        Share of the height from the top.
    width : float
        w, share of the height.
    """

    base: float
    top: float
    edge: float
    width: float

    def stops(self, y: F64) -> F64:
        """Return the density beyond ``base`` at shares of the height."""
        scale = self.top * (1.0 + math.exp(-self.edge / self.width))
        curve: F64 = scale / (1.0 + np.exp(np.clip((y - self.edge) / self.width, -60, 60)))
        return curve

    @property
    def edge_at(self) -> float:
        """Where the density is half of its value at the very top."""
        shape = 1.0 + 2.0 * math.exp(-self.edge / self.width)
        return self.edge + self.width * math.log(shape)

    @property
    def transition(self) -> float:
        """Share of the height from 90 % to 10 % of the density."""
        return 2.0 * math.log(9.0) * self.width


def row_medians(tiles: F32) -> F64:
    """Return the median of each row; NaN where less than a twelfth of it is known."""
    known = np.isfinite(tiles).sum(axis=1) >= max(3.0, tiles.shape[1] / 12.0)
    rows = np.full(tiles.shape[0], np.nan)
    if known.any():
        rows[known] = median_known(tiles[known], axis=1)
    return rows


def fit_curve(y: F64, tiles: F32) -> Curve | None:
    """Fit the density over the height; None where it is not that of a graduated filter.

    Tiles that disagree cost no more the farther off they are: waves and clouds moved between
    the frames, rocks and clear sky did not. Starts are the best of a grid over edge and width.

    Parameters
    ----------
    y : array, shape (rows,)
        Shares of the height from the top.
    tiles : array of float32, shape (rows, cols)
        Stops held back; NaN where unknown.
    """
    rows = row_medians(tiles)
    known = np.isfinite(rows)
    if int(known.sum()) < 12:
        return None
    at, stops = y[known], rows[known]
    spread = median_known(np.abs(tiles[known] - stops[:, None]), axis=1)
    error = ROW_ERROR_STOPS + spread.astype(np.float64)
    there = np.flatnonzero(np.isfinite(tiles))
    there = there[:: max(1, len(there) // MOST_TILES)]
    where, values = y[there // tiles.shape[1]], tiles.ravel()[there].astype(np.float64)
    some = max(3, len(stops) // 6)
    bottom, top = float(np.median(stops[-some:])), float(np.median(stops[:some]))
    least_rise, most_rise = 0.3, 11.0  # stops from top to bottom that a fit begins with
    rise = min(most_rise, max(least_rise, top - bottom))
    # waves leave whole rows of water off: what rows scatter by against those beside them
    apart = stops[2 * NOISE_ROWS :] + stops[: -2 * NOISE_ROWS] - 2.0 * stops[NOISE_ROWS:-NOISE_ROWS]
    row_noise = (
        MAD_TO_SIGMA * float(np.median(np.abs(apart))) / math.sqrt(6.0) if len(apart) else 0.0
    )
    tile_error = math.hypot(TILE_ERROR_STOPS, row_noise)
    grid = [Curve(bottom, rise, edge, width) for edge in EDGES for width in WIDTHS]
    grid.sort(key=lambda start: _cost(start, where, values, tile_error))
    level = Curve(bottom, 0.0, EDGES[0], WIDTHS[0])
    if rise <= least_rise and _cost(level, where, values, tile_error) <= _cost(
        grid[0], where, values, tile_error
    ):
        return None  # the top is held back no more than the bottom, and no curve fits better
    fits = [_fitted(where, values, start, tile_error) for start in grid[:STARTS]]
    curve = min(fits, key=lambda fit: _cost(fit, where, values, tile_error))
    round_edge = np.abs(y - curve.edge_at) <= max(0.05, curve.transition / 2.0)
    seen = round_edge.any() and float(known[round_edge].mean()) >= SEEN_ROWS
    return curve if seen and _is_grad(curve, at, stops, error) else None


def _is_grad(curve: Curve, at: F64, stops: F64, error: F64) -> bool:
    """Whether a fitted curve is that of a filter, and explains the rows that agree."""
    weight = 1.0 / error**2
    mean = float((weight * stops).sum() / weight.sum())
    total = float((weight * (stops - mean) ** 2).sum())
    missed = float((weight * (stops - curve.base - curve.stops(at)) ** 2).sum())
    inside = float(at.min()) < curve.edge_at < float(at.max()) - 0.05
    explained = total > 0 and 1.0 - missed / total >= EXPLAINED
    return explained and inside and curve.top >= GRAD_LEAST_STOPS


def _cost(curve: Curve, at: F64, stops: F64, error: float) -> float:
    misses = (curve.base + curve.stops(at) - stops) / error
    return float((misses**2 / (1.0 + misses**2)).sum())


def _fitted(at: F64, stops: F64, start: Curve, error: float) -> Curve:
    # here, since it takes a quarter of a second to load, and most shoots never need it
    from scipy import optimize  # noqa: PLC0415

    def misses(values: F64) -> F64:
        curve = Curve(*(float(v) for v in values))
        return np.asarray((curve.base + curve.stops(at) - stops) / error)

    def slopes(values: F64) -> F64:  # of the misses, by each of the four
        _, top, edge, width = (float(v) for v in values)
        under = math.exp(-edge / width)
        share = Curve(0.0, 1.0, edge, width).stops(at)
        falls, left = share / width * top, 1.0 - share / (1.0 + under)
        by_edge = falls * (left - under / (1.0 + under))
        by_width = falls * (left * (at - edge) + under / (1.0 + under) * edge) / width
        return np.stack([np.ones_like(at), share, by_edge, by_width], axis=1) / error

    def forgetting(squares: F64) -> F64:  # the loss z/(1 + z), with its first two derivatives
        more = 1.0 + squares
        return np.stack([squares / more, more**-2, -2.0 * more**-3])

    bounds = ([-30.0, 0.0, 0.02, 0.004], [30.0, 12.0, 0.98, 0.2])
    first = np.clip([start.base, start.top, start.edge, start.width], *bounds)
    found = optimize.least_squares(misses, first, slopes, bounds=bounds, loss=forgetting)
    return Curve(*(float(v) for v in found.x))
