"""Framings of the invented coast, and what stands still in them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from scipy import ndimage

from auditor.model.arrays import F32, Bool
from sample_generation.sky import Weather
from sample_generation.terrain import Land, Seen, see
from sample_generation.textures import noise_tile, smooth

WORK_LONG_SIDE = 1400
"""Shapes, clouds and waves are worked out at no more pixels a side, then enlarged."""


@dataclass(frozen=True, slots=True)
class Composition:
    """A framing.

    Parameters
    ----------
    field_of_view : float
        Width of the picture as a tangent: 1.5 is a 24 mm lens on a full frame.
    centre_u : float
        Direction of the picture's middle as a tangent to the right.
    horizon_at : float
        Share of the height from the top.
    """

    name: str
    land: Land
    weather: Weather
    field_of_view: float = 1.5
    centre_u: float = 0.0
    horizon_at: float = 0.42

    def shifted(self, right_px: float, down_px: float, width: int, height: int) -> Composition:
        """Turn the camera so that everything moves right and down by so many pixels."""
        return replace(
            self,
            centre_u=self.centre_u - right_px / width * self.field_of_view,
            horizon_at=self.horizon_at + down_px / height,
        )


@dataclass(frozen=True, slots=True, eq=False)
class Still:
    """What stands still in a framing, at working size.

    Parameters
    ----------
    u, up : array, shape (rows, cols)
        Direction right and over the horizon as tangents (``up`` not under 0).
    solid, water : array of bool
        Land and sea; the rest is sky.
    ambient, facing, albedo, wet : array, shape (solid places,)
        Of the land: share of the sky seen, cosine towards the sun, reflectance, and share of
        the sky mirrored by the wet surface.
    haze, grain : array, shape (solid places,)
        Share of the air's own light, and contrast of the finest detail.
    mirror_u, mirror_up : array, shape (solid places,)
        Where that mirrored sky lies.
    wave_x, wave_y, below, shallow : array, shape (water places,)
        Places in the wave pattern, tangent under the horizon, depth of the water in metres.
    """

    u: F32
    up: F32
    solid: Bool
    water: Bool
    ambient: F32
    facing: F32
    albedo: F32
    wet: F32
    haze: F32
    grain: F32
    mirror_u: F32
    mirror_up: F32
    wave_x: F32
    wave_y: F32
    below: F32
    shallow: F32
    horizon_row: float


def work_size(width: int, height: int) -> tuple[int, int]:
    """Width and height of the working picture."""
    scale = min(1.0, WORK_LONG_SIDE / max(width, height))
    return max(8, round(width * scale)), max(8, round(height * scale))


@lru_cache(maxsize=4)
def still(composition: Composition, width: int, height: int) -> Still:
    """Work out what stands still, for a working picture of that size."""
    field = composition.field_of_view
    across, down_share = _middles(width), _middles(height)
    u: F32 = (across - 0.5) * np.float32(field) + np.float32(composition.centre_u)
    v: F32 = (down_share - np.float32(composition.horizon_at)) * np.float32(field * height / width)
    seen = see(composition.land, u, v)
    wide: F32 = np.broadcast_to(u[None, :], (height, width))
    down: F32 = np.broadcast_to(v[:, None], (height, width))
    solid, water = seen.solid, seen.water
    mirror_u, mirror_up, grazing = _mirrored(wide[solid], down[solid], seen.normal[solid])
    below = np.maximum(down[water], 1e-4)
    return Still(
        u=wide,
        up=np.maximum(-down, 0.0),
        solid=solid,
        water=water,
        ambient=_ambient(seen),
        facing=_towards_sun(seen.normal[solid], composition.weather.sun_u),
        albedo=_albedo(composition.land, seen),
        wet=(0.01 + 0.45 * grazing**4) * _wetness(seen),
        grain=0.03 + 0.14 * np.exp(-seen.z[solid] / 40.0),
        haze=1.0 - np.exp(-seen.z[solid] / 2500.0),
        mirror_u=mirror_u,
        mirror_up=mirror_up,
        wave_x=np.asarray(wide[water] / (below + 0.01) ** 0.7 * 30.0, dtype=np.float32),
        wave_y=np.asarray(48.0 * np.log(below + 0.012), dtype=np.float32),
        below=below,
        shallow=np.maximum(-seen.height[water], 0.0),
        horizon_row=composition.horizon_at * height,
    )


def _middles(count: int) -> F32:
    """Middles of ``count`` equal parts of 1."""
    return ((np.arange(count) + 0.5) / count).astype(np.float32)


def _ambient(seen: Seen) -> F32:
    """Share of the sky that each place sees: its tilt, and how deep it lies among others."""
    solid = seen.solid
    tilt = 0.15 + 0.85 * np.clip(seen.normal[..., 1], 0.0, 1.0) ** 1.5
    height = np.where(solid, seen.height, 0.0)
    hollow = height - ndimage.uniform_filter(height, size=9)
    buried = np.clip(0.9 + 4.0 * hollow / np.maximum(0.2, 0.03 * seen.z), 0.06, 1.15)
    return np.asarray((tilt * buried)[solid], dtype=np.float32)


def _towards_sun(normal: F32, sun_u: float) -> F32:
    towards = np.array([sun_u, 0.09, 1.0], dtype=np.float32)
    towards /= np.linalg.norm(towards)
    return np.asarray(np.clip(normal @ towards, 0.0, 1.0), dtype=np.float32)


def _albedo(land: Land, seen: Seen) -> F32:
    """Reflectance of the rock: layers, stains, lighter sand in the hollows."""
    solid = seen.solid
    x, z, height = seen.x[solid], seen.z[solid], seen.height[solid]
    stain = smooth(noise_tile(land.seed + 11, 2.2), x * 9.0, z * 9.0 + height * 25.0)
    layer = smooth(noise_tile(land.seed + 12, 1.6, stretch=4.0), x * 6.0, height * 38.0 + z)
    return np.asarray(np.clip(0.10 + 0.028 * stain + 0.02 * layer, 0.02, 0.3), dtype=np.float32)


def _wetness(seen: Seen) -> F32:
    """How wet: soaked near the water, drier higher up."""
    height = seen.height[seen.solid]
    return np.asarray(0.35 + 0.65 * np.exp(-np.maximum(height, 0.0) / 0.5), dtype=np.float32)


def _mirrored(u: F32, v: F32, normal: F32) -> tuple[F32, F32, F32]:
    """Direction mirrored at a surface as tangents, and how grazing the view is (0 to 1)."""
    view = np.stack([u, -v, np.ones_like(u)], axis=1)
    view /= np.linalg.norm(view, axis=1, keepdims=True)
    along = np.sum(view * normal, axis=1, keepdims=True)
    mirrored = view - 2.0 * along * normal
    ahead = np.maximum(np.abs(mirrored[:, 2]), 0.15)
    up = np.clip(mirrored[:, 1] / ahead, 0.0, 2.0)
    grazing = 1.0 - np.clip(-along[:, 0], 0.0, 1.0)
    return mirrored[:, 0] / ahead, up, grazing
