"""Places of a mosaic at the sensor's own pixels: where they lie, and how they are drawn."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from auditor.clipping.limits import WHOLLY
from auditor.clipping.patches import largest_patch
from auditor.model.arrays import F32, F64, U8, Scalar
from auditor.pictures.render import Rendering, codes_of, planes_by_channel

CROP_PX = 480
"""Of a side: a third of a window on a common screen, and an area that a hand covers in print."""

BLOWN_OF_A_SHARP_PLACE = 0.01
"""A place of which more is blown is not shown as the sharpest."""


Window = tuple[int, int, int, int]
"""Top, left, bottom and right in the sensor's pixels."""


def blown_window(any_over: F32, tile_px: int, height: int, width: int) -> Window | None:
    """Return the window of the largest blown patch; None where nothing is blown.

    A patch that fits is shown whole. Of a larger one that part is shown of which half is blown:
    its edge tells what went over, its middle is white paper.

    Parameters
    ----------
    any_over : array of float32, shape (rows, cols)
        Share of each tile in which any plane is over.
    """
    most = float(any_over.max(initial=0.0))
    if most == 0.0:
        return None
    patch = largest_patch(any_over, min(WHOLLY, most))
    if patch is None:
        return None
    rows, cols = any_over.shape
    left, top, right, bottom = patch.box
    inside = np.zeros((rows, cols), dtype=bool)
    inside[_span(top, bottom, rows), _span(left, right, cols)] = True
    share = _window_means(np.where(inside, any_over, np.float32(0.0)), tile_px)
    centre = (patch.centre[1] * height, patch.centre[0] * width)
    return _best(share * (1.0 - share), tile_px, height, width, centre)


def sharp_window(
    detail: F32, any_over: F32, tile_px: int, height: int, width: int
) -> Window | None:
    """Return the window that holds most fine detail; None where every window is partly blown.

    Parameters
    ----------
    detail : array of float32, shape (rows, cols)
        Not a number where something is over.
    """
    sharp = _window_means(np.nan_to_num(detail, nan=0.0), tile_px)
    clean = _window_means(any_over, tile_px) <= BLOWN_OF_A_SHARP_PLACE
    if not clean.any():
        return None
    score = np.where(clean, sharp, -1.0)
    return _best(score, tile_px, height, width, (height / 2, width / 2))


def _span(start: float, stop: float, tiles: int) -> slice:
    return slice(round(start * tiles), round(stop * tiles))


def _window_means(tiles: F32, tile_px: int) -> F64:
    """Return the mean over the window round each tile."""
    side = _side(tile_px)
    sums = np.pad(tiles.astype(np.float64), side // 2, mode="edge").cumsum(axis=0).cumsum(axis=1)
    sums = np.pad(sums, ((1, 0), (1, 0)))
    found: F64 = (
        sums[side:, side:] - sums[:-side, side:] - sums[side:, :-side] + sums[:-side, :-side]
    )
    return found / side**2


def _side(tile_px: int) -> int:
    """Return how many tiles a window covers: an odd number, for one to be in the middle."""
    return max(1, round(CROP_PX / tile_px)) | 1


def _best(score: F64, tile_px: int, height: int, width: int, near: tuple[float, float]) -> Window:
    """Return the window round the best tile that lies whole in the frame.

    Of equals it is the one nearest to a place.
    """
    whole = np.zeros(score.shape, dtype=bool)
    margins = [min(_side(tile_px) // 2, (tiles - 1) // 2) for tiles in score.shape]
    whole[tuple(slice(m, tiles - m) for m, tiles in zip(margins, score.shape, strict=True))] = True
    y, x = np.nonzero(whole & (score >= score[whole].max() - 1e-9))
    rows, cols = (y + 0.5) * tile_px, (x + 0.5) * tile_px
    nearest = int(np.argmin((rows - near[0]) ** 2 + (cols - near[1]) ** 2))
    top, bottom = _within(rows[nearest], height)
    left, right = _within(cols[nearest], width)
    return top, left, bottom, right


def _within(middle: np.float64, length: int) -> tuple[int, int]:
    """Return where a window round a place begins and ends, moved into the frame."""
    size = min(CROP_PX, length)
    start = min(max(0, round(float(middle) - size / 2)), length - size)
    return start, start + size


def render_window(window: Window, rendering: Rendering) -> U8:
    """Render a window, one pixel for one of the sensor's.

    A pixel keeps the colour it has measured; its other colours are the means of the nearest that
    have them, weighed by their distance (bilinear; common practice).

    Returns
    -------
    array of uint8, shape (rows, cols, 3)
    """
    top, left, bottom, right = window
    picture = np.empty((bottom - top, right - left, 3), dtype=np.uint8)
    by_channel = planes_by_channel(rendering.layout)
    for lattice in rendering.lattices:
        black_dn = np.asarray(rendering.blacks_dn, dtype=np.float32)[lattice.pattern]
        signal = lattice.pixels[top:bottom, left:right] - _laid_over(window, black_dn)
        for channel, planes in enumerate(by_channel):
            if planes[0] in lattice.planes:
                own = _laid_over(window, np.isin(lattice.pattern, planes))
                filled = signal
                if not own.all():
                    near = _with_neighbours(signal * own)
                    near /= np.maximum(_with_neighbours(own.astype(np.uint8)), 1)
                    filled = np.where(own, signal, near)
                picture[..., channel] = codes_of(filled, rendering.whites_dn[channel])
    return picture


def _laid_over(window: Window, values: NDArray[Scalar]) -> NDArray[Scalar]:
    """Repeat what is given for the places of a pattern over a window of the sensor."""
    top, left, bottom, right = window
    rows, cols = values.shape
    begun = np.roll(values, (-top, -left), axis=(0, 1))
    line: NDArray[Scalar] = np.tile(begun, (1, -(-(right - left) // cols)))[:, : right - left]
    laid: NDArray[Scalar] = line[np.arange(bottom - top) % rows]
    return laid


def _with_neighbours(values: NDArray[Scalar]) -> NDArray[Scalar]:
    """Sum each value with its eight neighbours, weighed 1, 2, 1 across and down."""
    padded = np.pad(values, 1)
    down = padded[:-1] + padded[1:]
    down = down[:-1] + down[1:]
    across = down[:, :-1] + down[:, 1:]
    summed: NDArray[Scalar] = across[:, :-1] + across[:, 1:]
    return summed
