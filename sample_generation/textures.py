"""Noise that repeats without a seam: what clouds, waves and rocks are made of."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from auditor.model.arrays import F32

SIZE = 512
"""Side of a tile in cells; a power of two, so that places wrap by a mask."""


@lru_cache(maxsize=32)
def noise_tile(seed: int, slope: float, finest: float = 0.5, stretch: float = 1.0) -> F32:
    """Make a tile of noise with a power spectrum ``f**-slope``, mean 0 and deviation 1.

    Parameters
    ----------
    seed : int
    slope : float
        2 is cloud-like, 3 smooth, 1 grainy.
    finest : float
        Highest frequency kept, in cycles a cell (0.5 keeps all).
    stretch : float
        How many times longer the features are across (second axis) than down.
    """
    rng = np.random.default_rng([seed, 7002])
    spectrum = np.fft.rfft2(rng.standard_normal((SIZE, SIZE)))
    down = np.fft.fftfreq(SIZE)[:, None]
    across = np.fft.rfftfreq(SIZE)[None, :] * stretch
    frequency = np.hypot(down, across)
    frequency[0, 0] = np.inf
    weight = frequency ** (-slope / 2.0) * np.exp(-((frequency / finest) ** 2))
    tile = np.fft.irfft2(spectrum * weight, s=(SIZE, SIZE))
    tile -= tile.mean()
    return np.asarray(tile / tile.std(), dtype=np.float32)


def nearest(tile: F32, x: F32, y: F32) -> F32:
    """Look a tile up at places in cells, the nearest cell."""
    column = x.astype(np.int32) & (SIZE - 1)
    row = y.astype(np.int32) & (SIZE - 1)
    return np.asarray(tile.reshape(-1)[row * SIZE + column])


def smooth(tile: F32, x: F32, y: F32) -> F32:
    """Look a tile up at places in cells, between four cells."""
    left, top = np.floor(x), np.floor(y)
    right_share, low_share = (x - left).astype(np.float32), (y - top).astype(np.float32)
    column, row = left.astype(np.int32) & (SIZE - 1), top.astype(np.int32) & (SIZE - 1)
    beside, below = (column + 1) & (SIZE - 1), (row + 1) & (SIZE - 1)
    flat = tile.reshape(-1)
    row, below = row * SIZE, below * SIZE
    upper = flat[row + column] * (1 - right_share) + flat[row + beside] * right_share
    lower = flat[below + column] * (1 - right_share) + flat[below + beside] * right_share
    return np.asarray(upper * (1 - low_share) + lower * low_share, dtype=np.float32)


def smoothstep(low: float, high: float, x: F32) -> F32:
    """Rise from 0 at ``low`` to 1 at ``high`` without a corner: ``3 s² - 2 s³``."""
    share = np.clip((x - low) / (high - low), 0.0, 1.0)
    return np.asarray(share * share * (3.0 - 2.0 * share), dtype=np.float32)
