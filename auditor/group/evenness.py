"""What is not even in what a filter does: corners, scattered light, parts of the picture."""

from __future__ import annotations

import numpy as np

from auditor.group.limits import (
    CORNER_BETTER,
    CORNER_LEAST_STOPS,
    CORNER_REACH,
    CORNER_TILES,
    FIRM_BLOCK_STOPS,
    SCATTERED_LEAST_STOPS,
)
from auditor.model.arrays import F32, MAD_TO_SIGMA, median_known, median_of
from auditor.model.half_sample_mode import Core, core_of_sorted, median_off

UNEVEN_BLOCK = 12
"""Tiles a side of the blocks whose levels are compared to tell whether a change was even."""


SCATTERED_SHARES = tuple(0.02 * 1.6**n for n in range(8))
"""Scattered light that is tried, shares of the median tone, 0.02 to 0.54; then between these."""

FINER = tuple(1.6 ** (n / 10.0) for n in (-9, -6, -3, 3, 6, 9))
FINEST = tuple(1.6 ** (n / 10.0) for n in (-2, -1, 1, 2))


TONE_TILES = 4
"""Tiles between places whose tones are compared: a picture that is softer, or lies by parts of a
tile elsewhere, changes what is nearer."""


def corner_fall_off(tiles: F32, core: Core) -> float:
    """Return by how many stops more the corners were held back than the middle.

    Light passes a filter aslant towards the corners, and mounts reach into the picture; an
    unfiltered frame with its aperture open has dark corners itself, and the figure is negative:
    ``D = base + k r²`` with r = 1 in the corners, fitted to the tiles that agree with it. 0 where
    no such term is needed, or where the tiles do not reach from the middle outwards.
    """
    radius = radius_squared(tiles.shape)
    corner_most_stops = 1.5  # fall-off to the corners that is looked for
    use = np.isfinite(tiles) & (np.abs(tiles - core.value) <= corner_most_stops)
    values, at = tiles[use].astype(np.float64), radius[use].astype(np.float64)
    if len(values) < CORNER_TILES or np.ptp(np.percentile(at, [10, 90])) < CORNER_REACH:
        return 0.0
    base, rise = core.value, 0.0
    for scale in (0.4, 0.2, 0.1, 0.06, 0.06):
        weight = 1.0 / (1.0 + ((values - base - rise * at) / scale) ** 2) ** 2
        middle = float(weight @ at) / float(weight.sum())
        weighted = weight * (at - middle)
        rise = float(weighted @ values) / float(weighted @ at)
        base = float(weight @ values) / float(weight.sum()) - rise * middle
    flat = median_of(np.abs(values - core.value))
    bent = median_of(np.abs(values - base - rise * at))
    return rise if abs(rise) >= CORNER_LEAST_STOPS and bent <= CORNER_BETTER * flat else 0.0


def radius_squared(shape: tuple[int, ...]) -> F32:
    """Squared distance of each tile from the middle of the picture; 1 in the corners."""
    rows, cols = shape
    y, x = np.ogrid[:rows, :cols]
    down, right = y - (rows - 1) / 2.0, x - (cols - 1) / 2.0
    return ((down**2 + right**2) / max(1.0, (rows**2 + cols**2) / 4.0)).astype(np.float32)


def scattered_light(tiles: F32, tones: F32) -> F32:
    """Return by how many stops light that was scattered over the picture lifts each tile.

    In the glass or in the air it becomes the same for all tones, so dark ones gain most:
    ``D = base - log2(1 + v m / s)`` at a signal of s, with m the median of them.

    Parameters
    ----------
    tiles : array of float32, shape (rows, cols)
        Stops held back.
    tones : array of float32, shape (rows, cols)
        Stops of the light that was expected, on any scale.

    Returns
    -------
    array of float32, shape (rows, cols)
        All 0 where none is needed; NaN where there is no tone.
    """
    use = np.isfinite(tiles) & np.isfinite(tones)
    none = np.zeros_like(tiles)
    stops, bright = tiles[use], tones[use]
    # so many stops the tones must span for scattered light to show: dark ones gain most of it
    tones_stops = 1.5
    if len(stops) < CORNER_TILES or np.ptp(np.percentile(bright, [10, 90])) < tones_stops:
        return none
    middle_tone = median_of(bright)
    flat, gain = _miss(stops), np.exp2(middle_tone - bright)
    even_stops = 0.01  # tiles that agree so well need nothing taken out of them
    if flat <= even_stops:
        return none
    tried: dict[float, float] = {}
    for shares in (SCATTERED_SHARES, FINER, FINEST):
        middle = min(tried, key=lambda share: tried[share], default=1.0)
        for share in (middle * part for part in shares):
            tried[share] = _miss(stops + np.log2(1.0 + share * gain))
    best = min(tried, key=lambda share: tried[share])
    inside = np.log2(1.0 + best) >= SCATTERED_LEAST_STOPS and best < SCATTERED_SHARES[-1]
    if not (inside and tried[best] <= CORNER_BETTER * flat):
        return none
    lift: F32 = np.log2(1.0 + best * np.exp2(middle_tone - tones)).astype(np.float32)
    return lift


def _miss(values: F32) -> float:
    """Return the median of what values are off the one that most of them agree on."""
    line = np.sort(values)
    core = core_of_sorted(line)
    return np.inf if core is None else median_off(line, core.value)


def by_tone(tiles: F32, tones: F32) -> float:
    """Return by how many stops neighbours lost light unlike because one was brighter.

    Glass holds back light and dark places alike. Where the sun went in, what it shone on lost more
    than what lay in the shade beside it, however even the whole may be. The spread of the steps
    from tile to tile that goes with the steps of tone.

    Parameters
    ----------
    tiles : array of float32, shape (rows, cols)
        Stops held back by ground that holds still; NaN elsewhere.
    tones : array of float32, shape (rows, cols)
        Stops of the light, the mean of both frames, on any scale.
    """
    loss, step = (part[:, TONE_TILES:] - part[:, :-TONE_TILES] for part in (tiles, tones))
    known = np.isfinite(loss) & np.isfinite(step)
    if int(known.sum()) < CORNER_TILES:
        return 0.0
    off = loss[known] - median_of(loss[known])
    spread = max(1e-6, MAD_TO_SIGMA * float(median_of(np.abs(off))))
    apart = step[known] - np.mean(step[known])
    off = np.clip(off, -3.0 * spread, 3.0 * spread)
    energy = float((off @ off) * (apart @ apart))
    likeness = float(off @ apart) / max(1e-9, float(np.sqrt(energy)))
    return spread / float(np.sqrt(2.0)) * abs(likeness)


def unevenness(green: F32) -> float:
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
    middles = median_known(flat, axis=1)
    scatter = median_known(np.abs(flat - middles[:, None]), axis=1)
    firm = middles[scatter <= FIRM_BLOCK_STOPS]
    if len(firm) < 3:
        return 0.0
    low, top = np.percentile(firm, [10, 90])
    return float(top - low)
