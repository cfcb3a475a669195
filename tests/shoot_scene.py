"""An invented coast in tiles: a still shore, moving water and moving clouds, wider than a frame."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from auditor.model.arrays import F32, I64, Bool

FINE = 2
"""Samples a tile: shifts of a part of a tile move light between tiles as they really do."""

TINT = {"sky": (0.42, 1.0, 0.80), "sea": (0.40, 1.0, 0.66), "shore": (0.55, 1.0, 0.45)}
"""Red, green and blue of each part as the sensor sees them, green 1."""


def texture(
    rng: np.random.Generator, shape: tuple[int, int], scales: tuple[float, ...], mode: str
) -> F32:
    """Return smooth noise of mean 0 and spread 1, blended of several scales."""
    total = np.zeros(shape, dtype=np.float32)
    for scale in scales:
        layer = ndimage.gaussian_filter(
            rng.standard_normal(shape).astype(np.float32), scale, mode=mode
        )
        total += layer / max(1e-6, float(layer.std()))
    spread: F32 = (total - total.mean()) / total.std()
    return spread


@dataclass(frozen=True, slots=True, eq=False)
class Scene:
    """Light of one place, in stops, over a canvas three frames wide (fine samples).

    ``sky`` and ``sea`` hold what moves, apart from what stays: each exposure draws its own.
    """

    rows: int
    cols: int
    still_stops: F32
    shore: Bool
    sky: Bool
    clouds: F32
    cloud_stops: float
    wave_stops: float

    @classmethod
    def invent(
        cls,
        seed: int,
        *,
        rows: int = 64,
        cols: int = 96,
        horizon: float = 0.42,
        sky_over_ground: float = 3.0,
        cloud_stops: float = 0.25,
        wave_stops: float = 0.35,
        shore_share: float = 0.4,
        bare: bool = False,
    ) -> Scene:
        """Make a coast: ``shore_share`` of the lower rows is land, with a headland behind.

        ``bare``: nothing but sky and sea, the horizon level.
        """
        rng = np.random.default_rng(seed)
        height, width = (rows + 24) * FINE, cols * 3 * FINE
        y = np.arange(height, dtype=np.float32)[:, None] / FINE - 12
        skyline = horizon * rows - np.clip(
            6.0 * texture(rng, (1, width), (14.0 * FINE,), "wrap"), 0.0, 9.0
        )
        if bare:
            skyline = np.full((1, width), horizon * rows, dtype=np.float32)
        shore_top = rows * (1 - shore_share) + 4.0 * texture(
            rng, (1, width), (9.0 * FINE, 3.0 * FINE), "wrap"
        )
        sky = np.broadcast_to(y < skyline, (height, width))
        headland = (y >= skyline) & (y < horizon * rows)
        rocks = texture(rng, (height, width), (3.0 * FINE, 6.0 * FINE), "wrap") > 1.6
        shore = headland | (y >= shore_top) | (rocks & (y > horizon * rows + 4))
        shore = shore & (not bare)
        ground = 0.7 * texture(rng, (height, width), (1.0 * FINE, 2.5 * FINE), "wrap")
        still = np.where(shore, ground - 0.6, 0.5)
        glow = sky_over_ground - 0.8 * (horizon * rows - y) / (horizon * rows)
        still = np.where(sky, glow, still).astype(np.float32)
        clouds = texture(rng, (height, width), (4.0 * FINE, 10.0 * FINE), "wrap")
        return cls(rows, cols, still, shore & ~sky, sky, clouds, cloud_stops, wave_stops)

    def radiance(
        self,
        rng: np.random.Generator,
        *,
        at_s: float,
        time_s: float,
        shift: tuple[float, float] = (0.0, 0.0),
        pan: float = 0.0,
        cloud_speed: float = 0.05,
        sky_less_ground: float = 0.0,
    ) -> tuple[F32, Bool, F32]:
        """Return (light of shape (3, rows, cols), shore, movement) of one exposure.

        Parameters
        ----------
        shift : (float, float)
            Tiles by which the picture moved right and down.
        pan : float
            Widths of the frame that the camera has turned to the right.
        cloud_speed : float
            Tiles a second.
        """
        left = (self.cols * (1.0 + pan) - shift[0]) * FINE
        top = (12 - shift[1]) * FINE
        rows = np.arange(self.rows * FINE + 1) + int(np.floor(top))
        cols = np.arange(self.cols * FINE + 1) + int(np.floor(left))
        window = np.ix_(rows, cols % self.sky.shape[1])
        sky, shore, still = self.sky[window], self.shore[window], self.still_stops[window]
        clouds = self._clouds(rows, cols, at_s, time_s, cloud_speed)
        light = np.exp2(still + np.where(sky, np.float32(sky_less_ground), 0))
        water = ~sky & ~shore
        amount = self.wave_stops / np.sqrt(1.0 + time_s / 0.3)
        waves = np.exp2(amount * texture(rng, light.shape, (1.0 * FINE, 2.0 * FINE), "wrap"))
        light = light * np.where(sky, clouds, np.where(water, waves / waves.mean(), 1.0))
        part = (left % 1.0, top % 1.0)
        kinds = np.where(sky, 0, np.where(shore, 2, 1))
        tints = np.array(list(TINT.values()), dtype=np.float32)
        picture = np.stack([self._tiles(light * tints[kinds, c], part) for c in range(3)])
        land = self._tiles(shore.astype(np.float32), part) > 0.6
        return picture.astype(np.float32), land, self._tiles(water.astype(np.float32), part)

    def _clouds(self, rows: I64, cols: I64, at_s: float, time_s: float, speed: float) -> F32:
        """Return what the clouds let through, on average over an exposure."""
        steps = min(8, 1 + int(time_s * speed))
        total = np.zeros((len(rows), len(cols)), dtype=np.float32)
        for moment in at_s + (np.arange(steps) + 0.5) / steps * time_s:
            there = (cols - round(float(moment) * speed * FINE)) % self.sky.shape[1]
            total += np.exp2(np.float32(self.cloud_stops) * self.clouds[np.ix_(rows, there)])
        return total / np.float32(steps)

    def _tiles(self, part: F32, offset: tuple[float, float]) -> F32:
        """Move a window by parts of a sample and gather the samples of each tile."""
        fx, fy = offset
        part = part[:, :-1] * (1 - fx) + part[:, 1:] * fx
        part = part[:-1] * (1 - fy) + part[1:] * fy
        tiles: F32 = part.reshape(self.rows, FINE, self.cols, FINE).mean(axis=(1, 3))
        return tiles
