"""The light of the invented coast, integrated over an exposure.

Clouds and waves are averaged over moments spread through the exposure. Energy is kept: waves
and foam scale the light by fields whose mean is 1, so that a long exposure has the mean light
of short ones.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from PIL import Image
from scipy import ndimage

from auditor.model.arrays import F32
from sample_generation.sky import (
    Palette,
    Weather,
    clear_sky,
    light_stops,
    palette,
    sun_disc,
    with_clouds,
)
from sample_generation.textures import SIZE, nearest, noise_tile
from sample_generation.views import Composition, Still, still, work_size

MOST_MOMENTS = 24
FULL_LIGHT = 1.1e8
"""Electrons a second at f/1 in green from a surface of value 1, the sun 5 degrees high."""

DAYLIGHT_RESPONSE = np.array([1 / 2.0, 1.0, 1 / 1.5], dtype=np.float32)
"""What the invented body's red, green and blue pixels collect from neutral light."""

WAVE_SPEED = 9.0
"""Cells of the wave pattern a second."""


@dataclass(frozen=True, slots=True)
class Dusk:
    """How the light falls.

    Parameters
    ----------
    altitude_deg : float
        Of the sun at second 0 of the evening.
    sinking_deg_per_min : float
    drift_stops_per_min : float
        A further change, as when cloud thickens; positive brightens.
    """

    altitude_deg: float = 3.0
    sinking_deg_per_min: float = 0.145
    drift_stops_per_min: float = 0.0

    def altitude(self, at_s: float) -> float:
        """Sun altitude at a second of the evening."""
        return self.altitude_deg - self.sinking_deg_per_min * at_s / 60.0

    def stops(self, at_s: float, time_s: float = 0.0) -> float:
        """Mean ambient light from ``at_s`` over ``time_s``, stops against full light."""
        moments = at_s + time_s * (np.arange(16) + 0.5) / 16.0
        levels = [
            light_stops(self.altitude(float(m))) + self.drift_stops_per_min * float(m) / 60.0
            for m in moments
        ]
        return float(np.log2(np.mean(np.exp2(levels))))


@dataclass(frozen=True, slots=True, eq=False)
class _Exposed:
    """What one exposure sees of a view: the colours and the clock."""

    view: Still
    weather: Weather
    colours: Palette
    altitude_deg: float
    at_s: float
    time_s: float


def coast_radiance(
    composition: Composition, dusk: Dusk, at_s: float, time_s: float, size: tuple[int, int]
) -> F32:
    """Mean radiance over an exposure, upright, shape (height, width, 3).

    Parameters
    ----------
    at_s, time_s : float
        When the shutter opens, seconds of the evening, and for how long.
    size : tuple of int
        Width and height.

    Returns
    -------
    array of float32
        Electrons a second that a pixel collects at f/1 in red, green and blue.
    """
    view = still(composition, *work_size(*size))
    altitude = dusk.altitude(at_s + time_s / 2.0)
    colours = palette(altitude, composition.weather)
    exposed = _Exposed(view, composition.weather, colours, altitude, at_s, time_s)
    picture = _sky(exposed)
    picture[view.solid] = _land(exposed)
    picture[view.water] = _sea(exposed, picture)
    scale = FULL_LIGHT * 2.0 ** dusk.stops(at_s, time_s)
    picture *= DAYLIGHT_RESPONSE * np.float32(scale)
    contrast = np.zeros((*view.solid.shape, 1), dtype=np.float32)
    contrast[view.solid, 0] = view.grain
    grain = 1.0 + _enlarged(contrast, *size)[..., 0] * _grain(composition, *size)
    full = _enlarged(picture, *size)
    for channel in range(3):
        plane = full[..., channel]
        np.maximum(plane * grain, 0.0, out=plane)
    return full


def _moments(at_s: float, time_s: float) -> list[float]:
    """Moments to average over, in the middle of equal parts of the exposure."""
    count = int(min(MOST_MOMENTS, 1 + 6.0 * time_s))
    return [at_s + time_s * (n + 0.5) / count for n in range(count)]


def _sky(exposed: _Exposed) -> F32:
    """Sky with clouds averaged over the exposure; clouds are worked out at half size."""
    view, weather, colours = exposed.view, exposed.weather, exposed.colours
    rows = min(len(view.u), math.ceil(view.horizon_row) + 1)
    u, up = view.u[:rows], view.up[:rows]
    small_u, small_up = u[::2, ::2], up[::2, ::2]
    clear = clear_sky(small_u, small_up, colours, weather)
    # clouds move a cell in ten seconds: a moment every few seconds is enough
    every = max(1, int(8 / max(exposed.time_s, 1.0)))
    moments = _moments(exposed.at_s, exposed.time_s)[::every]
    mean = np.zeros_like(clear)
    for moment in moments:
        mean += with_clouds(clear, small_u, small_up, colours, weather, time_s=moment)
    picture = np.zeros((*view.u.shape, 3), dtype=np.float32)
    picture[:rows] = _enlarged(mean / np.float32(len(moments)), u.shape[1], rows)
    if exposed.altitude_deg > -1.2:
        picture[:rows] += sun_disc(u, up, exposed.altitude_deg, weather)
    return picture


def _land(exposed: _Exposed) -> F32:
    """Light from the land: the sky's, the low sun's, and the sky mirrored in wet rock."""
    view, colours = exposed.view, exposed.colours
    from_sky = 0.75 * colours.zenith + 0.35 * colours.horizon
    strength = 0.9 * float(np.clip((exposed.altitude_deg + 1.0) / 2.0, 0.06, 1.0))
    lit = view.ambient[:, None] * from_sky + (view.facing * strength)[:, None] * colours.glow
    mirrored = clear_sky(view.mirror_u, view.mirror_up, colours, exposed.weather)
    near = view.albedo[:, None] * 1.6 * lit + view.wet[:, None] * mirrored
    air = 0.3 * colours.horizon + 0.2 * colours.zenith
    haze = view.haze[:, None]
    return np.asarray(near * (1.0 - haze) + air * haze, dtype=np.float32)


def _sea(exposed: _Exposed, picture: F32) -> F32:
    """Light from the water: the mirrored picture, its own colour, glitter and foam."""
    view, colours = exposed.view, exposed.colours
    waves, sparkle, foam = _wave_fields(exposed)
    mirrored = _mirrored_picture(exposed, picture)
    share = 0.10 + 0.80 * np.exp(-view.below / 0.16)
    body = 0.22 * colours.zenith + 0.05 * colours.horizon * np.array([0.5, 1.0, 1.0], np.float32)
    light = (share * waves)[:, None] * mirrored + (1.0 - share)[:, None] * body
    aside = view.u[view.water] - exposed.weather.sun_u
    path = np.exp(-((aside / (0.03 + 0.22 * view.below)) ** 2) - view.below / 0.4)
    strength = float(np.clip((exposed.altitude_deg + 1.5) / 2.5, 0.05, 1.0))
    light += (path * strength * sparkle)[:, None] * colours.glow
    white = 0.5 * colours.zenith + 0.5 * colours.horizon
    cover = np.minimum(0.4 * np.exp(-view.shallow / 0.2), 0.35)
    light += (cover * foam)[:, None] * white
    return np.asarray(light, dtype=np.float32)


def _mirrored_picture(exposed: _Exposed, picture: F32) -> F32:
    """Look up what the water mirrors: the picture turned down and smeared by the waves."""
    view = exposed.view
    rows, cols = np.nonzero(view.water)
    over = np.rint(2.0 * view.horizon_row - rows - 0.012 * len(view.u)).astype(np.int64)
    size = max(3, len(view.u) // 40)
    smeared = ndimage.uniform_filter1d(picture, size=size, axis=0, mode="nearest")
    mirrored: F32 = smeared[np.maximum(over, 0), cols]
    beyond = over < 0
    u, up = view.u[view.water][beyond], view.below[beyond]
    mirrored[beyond] = clear_sky(u, up, exposed.colours, exposed.weather)
    return mirrored


def _wave_fields(exposed: _Exposed) -> tuple[F32, F32, F32]:
    """Mean fields of swell, glitter and foam over the exposure; each has mean 1 over the sea.

    Within one moment's share of the exposure the water moves on; its contrast is lowered by
    ``1 / sqrt(1 + (dt / 0.35 s)²)`` for that.
    """
    tiles = (_bumps(31, 0.34, 1.9), _bumps(33, 0.9, 1.5), _bumps(35, 0.8, 1.9))
    view = exposed.view
    moments = _moments(exposed.at_s, exposed.time_s)
    sums = [np.zeros_like(view.wave_x) for _ in tiles]
    for moment in moments:
        x, y = view.wave_x, view.wave_y + np.float32(WAVE_SPEED * moment % SIZE)
        crossing = x + np.float32(0.45 * WAVE_SPEED * moment % SIZE)
        for n, tile in enumerate(tiles):
            sums[n] += nearest(tile, x, y) * nearest(tile, crossing * 1.3, y * 0.8 + 77.0)
    step = exposed.time_s / len(moments)
    contrast = np.float32(exposed.weather.swell / math.hypot(1.0, step / 0.35))
    fields = [1.0 + (total / np.float32(len(moments)) - 1.0) * contrast for total in sums]
    return fields[0], fields[1], fields[2]


def _bumps(seed: int, strength: float, slope: float) -> F32:
    """Positive tile of mean 1 with log-normal bumps, longer across than down."""
    tile = np.exp(strength * noise_tile(seed, slope, 0.35, 2.2))
    return np.asarray(tile / tile.mean(), dtype=np.float32)


def _enlarged(picture: F32, width: int, height: int) -> F32:
    """Resize between neighbours, so that no value leaves their range; (height, width, channels)."""
    if picture.shape[:2] == (height, width):
        return picture
    planes = [
        Image.fromarray(np.ascontiguousarray(picture[..., channel])).resize(
            (width, height), Image.Resampling.BILINEAR
        )
        for channel in range(picture.shape[2])
    ]
    # plane after plane in memory: whatever works on one channel then runs through it straight
    return np.moveaxis(np.stack([np.asarray(plane) for plane in planes]), 0, -1)


def _grain(composition: Composition, width: int, height: int) -> F32:
    """Fine grain of rock and sand, one value a pixel, standing still in the world."""
    tile = np.clip(noise_tile(composition.land.seed + 21, 1.1), -2.5, 2.5)
    right = round(composition.centre_u / composition.field_of_view * width)
    down = round(-composition.horizon_at * height)
    rows = (np.arange(height) + down) % SIZE
    cols = (np.arange(width) + right) % SIZE
    return tile[rows][:, cols]
