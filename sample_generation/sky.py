"""The sky over the invented coast: its colours through dusk, the sun, and moving clouds."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from auditor.model.arrays import F32, F64
from sample_generation.textures import noise_tile, smooth, smoothstep

SUN_RADIUS = 0.0047
"""Apparent radius of the sun as a tangent: 16 minutes of arc."""

# Sun altitude in degrees, then zenith, horizon and glow colours (neutral is equal parts),
# invented by eye.
_ALTITUDES = np.array([-9.0, -4.0, -1.0, 3.0])
_ZENITH = np.array([(0.13, 0.20, 0.43), (0.14, 0.20, 0.42), (0.17, 0.22, 0.40), (0.2, 0.27, 0.43)])
_HORIZON = np.array([(0.42, 0.34, 0.44), (0.7, 0.42, 0.4), (0.85, 0.5, 0.4), (0.75, 0.55, 0.45)])
_GLOW = np.array([(0.9, 0.36, 0.2), (1.6, 0.5, 0.17), (2.1, 0.75, 0.18), (1.9, 0.9, 0.3)])

# Light on level ground in stops, rounded from tables of twilight from memory: about
# 4000 lx at 5 degrees, 600 at 0, 50 at -3, 3.4 at -6, 0.2 at -9.
_LIGHT_ALTITUDES = np.array([-12.0, -9.0, -6.0, -3.0, 0.0, 5.0])
_LIGHT_STOPS = np.array([-17.5, -14.3, -10.2, -6.3, -2.7, 0.0])


def light_stops(sun_altitude_deg: float) -> float:
    """Ambient light in stops against a sun 5 degrees high."""
    return float(np.interp(sun_altitude_deg, _LIGHT_ALTITUDES, _LIGHT_STOPS))


@dataclass(frozen=True, slots=True)
class Weather:
    """Clouds, waves and the sun's place.

    Parameters
    ----------
    seed : int
    cover : float
        0 clear, 1 overcast.
    sun_u : float
        Direction of the sun as a tangent to the right.
    wind : tuple of float
        Movement of the clouds, cells a second.
    swell : float
        Contrast of waves, glitter and foam; 1 is a fresh breeze, 0 a mirror.
    redness : float
        Factor on red in the glow, and its inverse on blue; over 1 for a sky that burns.
    """

    seed: int = 5
    cover: float = 0.5
    sun_u: float = 0.1
    wind: tuple[float, float] = (0.10, 0.03)
    redness: float = 1.0
    swell: float = 1.0


@dataclass(frozen=True, slots=True, eq=False)
class Palette:
    """Colours of one moment, each shape (3,)."""

    zenith: F32
    horizon: F32
    glow: F32


def palette(sun_altitude_deg: float, weather: Weather) -> Palette:
    """Work out the colours of the sky at a sun altitude."""

    def at(table: F64) -> F32:
        return np.array([np.interp(sun_altitude_deg, _ALTITUDES, table[:, c]) for c in range(3)],
                        dtype=np.float32)  # fmt: skip

    tint = np.array([weather.redness, 1.0, 1.0 / weather.redness], dtype=np.float32)
    return Palette(at(_ZENITH), at(_HORIZON) * tint**0.5, at(_GLOW) * tint)


def clear_sky(u: F32, up: F32, colours: Palette, weather: Weather) -> F32:
    """Colour of the cloudless sky, shape (rows, cols, 3)."""
    band = np.exp(-up / 0.24)[..., None]
    near = (np.exp(-((u - weather.sun_u) ** 2) / 0.34) * np.exp(-up / 0.11))[..., None]
    base = colours.zenith + (colours.horizon - colours.zenith) * band
    return np.asarray(base + 0.8 * colours.glow * near, dtype=np.float32)


def with_clouds(
    sky: F32, u: F32, up: F32, colours: Palette, weather: Weather, *, time_s: float
) -> F32:
    """Lay the clouds of one moment over a clear sky."""
    away = 1.0 / (up + 0.05)
    x = (u * away * 17.0 + weather.wind[0] * time_s).astype(np.float32)
    y = (away * 30.0 + weather.wind[1] * time_s).astype(np.float32)
    body = smooth(noise_tile(weather.seed, 2.5, stretch=1.6), x, y)
    wisp = smooth(noise_tile(weather.seed + 1, 2.2, stretch=2.0), x * 3.1, y * 3.1)
    thick = body + 0.35 * wisp
    low = 1.1 - 2.2 * weather.cover
    dense = smoothstep(low, low + 1.5, np.asarray(thick, np.float32))
    dense = dense * smoothstep(0.0, 0.05, up)
    near = np.exp(-((u - weather.sun_u) ** 2) / 0.7) * np.exp(-up / 0.30)
    lit = 0.55 * colours.horizon + 0.25 * colours.zenith + colours.glow * near[..., None]
    dark = 0.6 * colours.zenith + 0.12 * colours.horizon
    # edges catch the light, the middle is in its own shade
    shade = (dense * 0.85)[..., None]
    cloud = lit * (1.0 - shade) + dark * shade
    cover = (smoothstep(0.0, 0.55, dense) * 0.92)[..., None]
    return np.asarray(sky * (1.0 - cover) + cloud * cover, dtype=np.float32)


def sun_disc(u: F32, up: F32, sun_altitude_deg: float, weather: Weather) -> F32:
    """Light of the sun itself and the glare round it, shape (rows, cols, 3)."""
    altitude = np.tan(np.radians(sun_altitude_deg))
    away = np.hypot(u - weather.sun_u, up - altitude)
    seen = smoothstep(0.0, 0.004, np.asarray(up + 0.002, np.float32))
    disc = 60.0 * smoothstep(1.6 * SUN_RADIUS, 0.6 * SUN_RADIUS, away)
    glare = 1.4 * np.exp(-away / 0.014) + 0.5 * np.exp(-away / 0.11)
    strength = float(np.clip((sun_altitude_deg + 1.2) / 1.2, 0.0, 1.0))
    warm = np.array([1.0, 0.62, 0.25], dtype=np.float32)
    return np.asarray((strength * seen * (disc + glare))[..., None] * warm, dtype=np.float32)
