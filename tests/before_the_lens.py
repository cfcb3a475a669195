"""What stands before the lens, or what the light does over the picture: for simulated frames."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from auditor.model.arrays import F32, F64

Change = Callable[[F32], F32]
"""Signal of shape (3, rows, cols) in DN, to the same as it is recorded then."""


def places(signal: F32) -> tuple[F64, F64]:
    """Return y and x of the tiles, shares of height and width, shape (rows, cols)."""
    rows, cols = signal.shape[1:]
    y, x = np.mgrid[:rows, :cols]
    return (y + 0.5) / rows, (x + 0.5) / cols


def held(signal: F32, stops: NDArray[np.floating[Any]]) -> F32:
    """Hold a signal back by stops over the picture."""
    return np.asarray(signal * np.exp2(-stops), dtype=np.float32)


def corners(stops: float) -> Change:
    """A fall-off to the corners, as thick filters and open apertures have."""

    def change(signal: F32) -> F32:
        (y, x), (rows, cols) = places(signal), signal.shape[1:]
        far = ((y - 0.5) * rows) ** 2 + ((x - 0.5) * cols) ** 2
        return held(signal, stops * far * 4.0 / (rows**2 + cols**2))

    return change


def cross(stops: float) -> Change:
    """The dark cross of a variable filter near its end, darkest in the corners."""

    def change(signal: F32) -> F32:
        y, x = places(signal)
        return held(signal, stops * np.abs((x - 0.5) * (y - 0.5)) * 4.0)

    return change


def polarised(stops: float, sky_stops: float) -> Change:
    """A polariser: evenly but for a part of the sky, more so there and less in blue."""

    def change(signal: F32) -> F32:
        y, x = places(signal)
        sky = (y < 0.38) * np.exp(-(((x - 0.5) / 0.25) ** 2)) * sky_stops
        return held(signal, stops + np.stack([sky * tint for tint in (1.0, 0.8, 0.45)]))

    return change


def fog(share: float) -> Change:
    """A part of the light is scattered evenly over the picture."""

    def change(signal: F32) -> F32:
        even = np.median(signal, axis=(1, 2), keepdims=True)
        return np.asarray(signal * (1.0 - share) + share * even, dtype=np.float32)

    return change


def flare(share: float) -> Change:
    """Light of the whole picture is scattered over it in the glass."""
    return lambda signal: signal + np.float32(share) * signal.mean(axis=(1, 2), keepdims=True)


def leak(share: float) -> Change:
    """Light gets in from the left behind the filter."""

    def change(signal: F32) -> F32:
        x, even = places(signal)[1], np.median(signal, axis=(1, 2), keepdims=True)
        return np.asarray(signal + share * even * np.exp(-x / 0.3), dtype=np.float32)

    return change


def patch(stops: float, x: float, y: float = 0.7, size: float = 0.2) -> Change:
    """A patch of sun on the ground."""

    def change(signal: F32) -> F32:
        down, right = places(signal)
        return held(signal, -stops * np.exp(-((down - y) ** 2 + (right - x) ** 2) / 2 / size**2))

    return change


def shadow(stops: float, x: float) -> Change:
    """A cloud's shadow over a part of the ground."""

    def change(signal: F32) -> F32:
        down, right = places(signal)
        return held(signal, stops * (np.abs(right - x) < 0.3) * (down > 0.42))

    return change


def boat(x: float) -> Change:
    """A white boat on the water."""

    def change(signal: F32) -> F32:
        down, right = places(signal)
        return held(signal, -2.0 * ((np.abs(right - x) < 0.06) & (np.abs(down - 0.5) < 0.06)))

    return change
