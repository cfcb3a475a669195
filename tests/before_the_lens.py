"""What stands before the lens, or what the light does over the picture: for simulated frames."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from auditor.model.arrays import F32, F64
from tests.shoot_maker import GradGlass
from tests.shoot_scene import texture

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


def daylight(mired: float) -> tuple[float, float, float]:
    """Return the stops of red, green and blue of daylight that is bluer by so many mired.

    Of the CIE daylight illuminants (CIE 15; its tables from memory) about 600, 530 and 460 nm,
    green left alone: from 5500 to 7500 K, 48 mired, red falls by 0.20 and blue rises by 0.31.
    """
    return -0.0041 * mired, 0.0, 0.0064 * mired


def in_shade(lost_stops: float, seed: int) -> tuple[float, float, float]:
    """Return the colour of what is left where clouds took so much of the sun's light.

    Sun and sky together are of 5500 K, an overcast sky of 6000 to 6500, open shade of 7500
    (common practice): in between by the share of the light that went. Cameras see the red of it
    a fifth less or more.
    """
    coldest, eye = np.random.default_rng(seed + 78).uniform((15.0, 0.8), (50.0, 1.25))
    red, _, blue = daylight(coldest * min(1.0, (1.0 - 2.0**-lost_stops) / 0.75))
    return red * float(eye), 0.0, blue


SUN, FLASH, LIGHTNING, HEADLIGHTS = (daylight(mired) for mired in (-40.0, -30.0, 80.0, -100.0))
"""Against the light of a cloudy evening, some 6500 K: 5100, 5500, 30,000 (from memory), 3900 K."""

NORTHERN_LIGHTS = (-1.5, 0.0, -1.0)
"""Oxygen's green line at 558 nm before all (from memory)."""


def brightened(
    signal: F32, stops: NDArray[np.floating[Any]], tint: tuple[float, float, float]
) -> F32:
    """Let more light of a colour fall on a signal, in green by so many stops over the picture."""
    colour = np.exp2(np.array(tint))[:, None, None]
    return np.asarray(signal * (1.0 + (np.exp2(stops) - 1.0) * colour), dtype=np.float32)


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


def patch(
    stops: float,
    x: float,
    y: float = 0.7,
    size: float = 0.2,
    tint: tuple[float, float, float] = SUN,
) -> Change:
    """A patch of sun on the ground."""

    def change(signal: F32) -> F32:
        (down, right), near = places(signal), 2 * size**2
        stops_there = stops * np.exp(-((down - y) ** 2 + (right - x) ** 2) / near)
        return brightened(signal, stops_there, tint)

    return change


def shadow(stops: float, x: float) -> Change:
    """A cloud's shadow over a part of the ground."""

    def change(signal: F32) -> F32:
        down, right = places(signal)
        there = (np.abs(right - x) < 0.3) * (down > 0.42)
        return held(signal, there * (stops - np.array(daylight(30.0))[:, None, None]))

    return change


def boat(x: float) -> Change:
    """A white boat on the water."""

    def change(signal: F32) -> F32:
        down, right = places(signal)
        return held(signal, -2.0 * ((np.abs(right - x) < 0.06) & (np.abs(down - 0.5) < 0.06)))

    return change


def sunlit(direct: float, seed: int, sky_stops: float = 0.0) -> Change:
    """The sun shines on the ground, on what faces it more, and is warmer than the sky's light.

    ``direct`` is its light at most, as a share of the sky's; the sky itself is brighter by
    ``sky_stops``.
    """

    def change(signal: F32) -> F32:
        y, _ = places(signal)
        facing = texture(np.random.default_rng(seed + 500), y.shape, (1.0, 2.5), "wrap")
        lit = (0.15 + 0.85 / (1.0 + np.exp(-2.5 * facing))) * (y > 0.42)
        colour = np.array([1.15, 1.0, 0.85])[:, None, None]
        lit_up = (1.0 + direct * lit * colour) * np.where(y > 0.42, 1.0, 2.0**sky_stops)
        return np.asarray(signal * lit_up, dtype=np.float32)

    return change


def wet(stops: float, seed: int) -> Change:
    """Rocks that a wave wetted are darker."""

    def change(signal: F32) -> F32:
        y, _ = places(signal)
        reached = texture(np.random.default_rng(seed + 9), y.shape, (6.0,), "wrap") > -0.3
        return held(signal, stops * ((y > 0.75) & reached))

    return change


def water_from(row: float) -> Change:
    """The tide stands so high that the lower part of the picture is water."""

    def change(signal: F32) -> F32:
        level = 1.4 * np.median(signal, axis=(1, 2), keepdims=True)
        return np.where(places(signal)[0] > row, level, signal).astype(np.float32)

    return change


def haze(share: float) -> Change:
    """Bright air before what is far: about the horizon, at 0.42 of the height."""

    def change(signal: F32) -> F32:
        y, even = places(signal)[0], 3.0 * np.median(signal, axis=(1, 2), keepdims=True)
        part = share * np.exp(-np.abs(y - 0.42) / 0.15) * (y >= 0.3)
        return np.asarray(signal * (1.0 - part) + part * even, dtype=np.float32)

    return change


def upside_down(glass: GradGlass) -> Change:
    """A graduated filter whose dark half is below."""
    return lambda signal: held(signal, glass.density(signal.shape[1])[::-1][None, :, None])


def aslant(stops: float, degrees: float = 20.0, transition: float = 0.3) -> Change:
    """A graduated filter turned in its holder, half its density at 0.42 in the middle."""

    def change(signal: F32) -> F32:
        (y, x), (rows, cols) = places(signal), signal.shape[1:]
        edge = 0.42 + np.tan(np.deg2rad(degrees)) * cols / rows * (x - 0.5)
        return held(signal, stops / (1.0 + np.exp(4.4 * (y - edge) / transition)))

    return change


def from_the_side(stops: float) -> Change:
    """A graduated filter that is dark at the left."""
    return lambda signal: held(
        signal, stops / (1.0 + np.exp(4.4 * (places(signal)[1] - 0.4) / 0.15))
    )


def reverse(stops: float, edge: float = 0.42) -> Change:
    """A graduated filter that is densest at its edge and has half as much at the top."""

    def change(signal: F32) -> F32:
        y, _ = places(signal)
        fades = 1.0 - 0.5 * np.clip((edge - y) / edge, 0.0, 1.0)
        return held(signal, stops * fades / (1.0 + np.exp(4.4 * (y - edge) / 0.06)))

    return change


def spray(seed: int) -> Change:
    """Forty drops that blur what lies behind them."""

    def change(signal: F32) -> F32:
        (y, x), rng = places(signal), np.random.default_rng(seed + 3)
        part = np.zeros_like(y)
        for down, right, size, share in rng.uniform((0, 0, 0.01, 0.2), (1, 1, 0.05, 0.6), (40, 4)):
            drop = np.exp(-((y - down) ** 2 + (x - right) ** 2) / 2 / size**2)
            part = np.maximum(part, share * drop)
        behind = ndimage.uniform_filter(signal, (0, 9, 9))
        return np.asarray(signal * (1.0 - part) + part * behind, dtype=np.float32)

    return change


def in_the_corner(share: float) -> Change:
    """Light gets in at the upper left behind the filter, more red and blue than green."""

    def change(signal: F32) -> F32:
        (y, x), even = places(signal), np.median(signal, axis=(1, 2), keepdims=True)
        tint = np.array([1.4, 1.0, 1.3])[:, None, None]
        return np.asarray(signal + share * even * tint * np.exp(-np.hypot(x, y) / 0.35), np.float32)

    return change


def strokes(stops: float, seed: int) -> Change:
    """A torch goes over the foreground: warm, uneven, more on what faces it."""

    def change(signal: F32) -> F32:
        (y, x), rng = places(signal), np.random.default_rng(seed + 77)
        lit = sum(
            np.exp(-((y - down) ** 2 + (x - right) ** 2) / 0.02)
            for down, right in rng.uniform((0.5, 0.0), (1.0, 1.0), (12, 2))
        )
        facing = 1.0 + 0.4 * texture(rng, y.shape, (1.5, 3.0), "wrap")
        more = (2.0**stops - 1.0) * np.clip(lit * facing, 0.0, 2.0) * (y > 0.45)
        tint = np.array([1.2, 1.0, 0.7])[:, None, None]
        return np.asarray(signal * (1.0 + more * tint), dtype=np.float32)

    return change


def lamps(seed: int) -> Change:
    """Six lamps of a village, and what they light up."""

    def change(signal: F32) -> F32:
        (y, x), rng = places(signal), np.random.default_rng(seed + 5)
        even = np.median(signal, axis=(1, 2), keepdims=True) * [[[1.5]], [[1.0]], [[0.5]]]
        near = sum(
            np.exp(-((y - down) ** 2 + (x - right) ** 2) / 0.0018)
            for down, right in rng.uniform((0.45, 0.0), (0.8, 1.0), (6, 2))
        )
        return np.asarray(signal + 2.4 * even * near, dtype=np.float32)

    return change


def lit(
    sky_stops: float, ground_stops: float, tint: tuple[float, float, float] = (0.0, 0.0, 0.0)
) -> Change:
    """More light in the sky and on the ground: lightning, northern lights."""
    return lambda signal: brightened(
        signal, np.where(places(signal)[0] < 0.42, sky_stops, ground_stops), tint
    )


def flash(stops: float) -> Change:
    """A flash on the foreground, the stronger the nearer it lies."""

    def change(signal: F32) -> F32:
        near = np.clip((places(signal)[0] - 0.55) / 0.45, 0.0, 1.0) ** 2
        return brightened(signal, np.log2(1.0 + (2.0**stops - 1.0) * near), FLASH)

    return change


def half_shade(stops: float, x: float) -> Change:
    """The shadow of a cloud over all that lies left of a line, the sky too."""

    def change(signal: F32) -> F32:
        there = 1.0 / (1.0 + np.exp((places(signal)[1] - x) / 0.1))
        return held(signal, there * (stops - np.array(daylight(30.0))[:, None, None]))

    return change


def fog_bank(share: float, x: float) -> Change:
    """Fog over all that lies left of a line."""

    def change(signal: F32) -> F32:
        even = 2.0 * np.median(signal, axis=(1, 2), keepdims=True)
        part = share / (1.0 + np.exp((places(signal)[1] - x) / 0.08))
        return np.asarray(signal * (1.0 - part) + part * even, dtype=np.float32)

    return change


def infrared(share: float, seed: int) -> Change:
    """Leaves shine where a filter lets infrared light through, in red most of all."""

    def change(signal: F32) -> F32:
        y, _ = places(signal)
        rng = np.random.default_rng(seed + 40)
        leaves = np.clip(texture(rng, y.shape, (3.0, 6.0), "wrap"), 0.0, 3.0) * (y > 0.42)
        more = share * leaves * np.array([1.0, 0.25, 0.2])[:, None, None]
        return np.asarray(signal * (1.0 + more), dtype=np.float32)

    return change


def car_lights(signal: F32) -> F32:
    """A car drove through the picture."""
    return held(signal, -4.0 * np.exp(-(((places(signal)[0] - 0.72) / 0.01) ** 2)))


def lit_below(stops: float, row: float = 0.42) -> Change:
    """Light on all that lies under a straight line, as of headlights on level ground."""
    return lambda signal: brightened(
        signal, np.where(places(signal)[0] < row, 0.0, stops), HEADLIGHTS
    )


def frost(stops: float, seed: int) -> Change:
    """White frost in patches on the ground."""

    def change(signal: F32) -> F32:
        y, _ = places(signal)
        white = texture(np.random.default_rng(seed + 21), y.shape, (4.0, 9.0), "wrap")
        return held(signal, -stops * np.clip(white + 0.6, 0.0, 1.0) * (y > 0.5))

    return change


def mist(share: float, x: float) -> Change:
    """A low bank of mist that lies before the horizon."""

    def change(signal: F32) -> F32:
        (y, right), even = places(signal), 1.5 * np.median(signal, axis=(1, 2), keepdims=True)
        part = share * np.exp(-(((right - x) / 0.3) ** 2) - ((y - 0.48) / 0.12) ** 2)
        return np.asarray(signal * (1.0 - part) + part * even, dtype=np.float32)

    return change


def lowered(tiles: float) -> Change:
    """The camera stands lower: what is near moves up in the picture, the horizon does not."""

    def change(signal: F32) -> F32:
        rows = np.arange(signal.shape[1], dtype=np.float64)
        near = np.clip(rows / len(rows) - 0.42, 0.0, None) / 0.58
        columns = [
            [np.interp(rows + tiles * near, rows, column) for column in plane.T] for plane in signal
        ]
        return np.asarray(columns, dtype=np.float32).swapaxes(1, 2)

    return change
