"""A painted evening at the invented Selmer Sands: radiance, then what a sensor makes of it."""

from __future__ import annotations

import io
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from auditor.model.arrays import F64

ROWS, COLS = 240, 360
TILE = 4
"""Painted pixels a tile; a tile is 64 sensor pixels of the 5760 x 3840 sensor."""
SENSOR_W, SENSOR_H, TILE_PX = 5760, 3840, 64
BLACK_DN, CLIP_DN, WHITE_TAG_DN = 512.0, 15870.0, 16383.0
READ_DN, GAIN_DN = 2.4, 0.35
SENSITIVITY = {"R": 0.55, "G1": 1.0, "G2": 1.0, "B": 0.68}
MID_STOPS = 4.1
"""A frame of placement 0 puts radiance 1 in green this far below saturation."""


@lru_cache(maxsize=64)
def radiance(scene: int, still: bool, tall: bool, seed: int) -> F64:
    """Linear R, G, B of one composition, upright; water is smooth when still."""
    rng = np.random.default_rng(seed * 1000 + scene)
    y = np.linspace(0, 1, COLS if tall else ROWS)[:, None]
    x = np.linspace(0, 1, ROWS if tall else COLS)[None, :]
    horizon = 0.40 + 0.06 * np.sin(1.7 * scene)
    sun_x = 0.25 + 0.5 * ((scene * 0.37) % 1.0)
    glow = np.exp(-(((x - sun_x) / 0.30) ** 2) - ((y - horizon) / 0.20) ** 2)
    wide, high = 3.2 / x.size, 3.2 / y.size
    disc = np.exp(-(((x - sun_x) / wide) ** 2) - ((y - horizon + 0.03) / high) ** 2)
    cloud = _clouds(rng, y, x)
    height = np.clip((horizon - y) / horizon, 0, 1)
    sky = 2.6 * (1 - 0.62 * height) * (0.75 + 0.5 * cloud) + 5.0 * glow + 26.0 * disc
    depth = np.clip((y - horizon) / (1 - horizon), 0, 1)
    path = np.exp(-(((x - sun_x) / (0.05 + 0.10 * depth)) ** 2))
    sea = 0.75 * (1 - 0.55 * depth) + 1.9 * path * (1 - 0.7 * depth)
    sea = sea * (1 + (0.05 if still else 0.45) * _waves(rng, y, x, depth))
    scene_l = np.where(y < horizon, sky, np.clip(sea, 0.02, None))
    rock = _rocks(rng, y, x, horizon, scene)
    scene_l = np.where(rock > 0, 0.006 + 0.05 * rock * (0.4 + cloud), scene_l)
    return _tinted(scene_l, glow + 0.6 * path * (y >= horizon), height)


def _clouds(rng: np.random.Generator, y: F64, x: F64) -> F64:
    field = np.zeros((y.size, x.size))
    for octave in range(1, 6):
        phase = rng.uniform(0, 6.28, 2)
        field += (
            np.sin(5 * octave * x + phase[0] + 2 * np.sin(3 * y + phase[1]))
            * np.sin(19 * octave * y + phase[1])
            / octave
        )
    field += rng.normal(0, 0.02, field.shape)
    return np.clip(0.5 + 0.35 * field, 0, 1)


def _waves(rng: np.random.Generator, y: F64, x: F64, depth: F64) -> F64:
    ripple = np.sin(160 * np.sqrt(depth + 0.02) + 5 * np.sin(9 * x + rng.uniform(0, 6.28)))
    waves: F64 = ripple * (0.4 + 0.6 * np.sin(23 * x + 7 * y)) + rng.normal(0, 0.12, ripple.shape)
    return waves


def _rocks(rng: np.random.Generator, y: F64, x: F64, horizon: float, scene: int) -> F64:
    rock = np.zeros((y.size, x.size))
    for _ in range(4 + scene % 3):
        cx, cy = rng.uniform(0, 1), rng.uniform(horizon + 0.22, 1.0)
        w, h = rng.uniform(0.04, 0.15), rng.uniform(0.04, 0.12)
        edge = 1 - ((x - cx) / w) ** 2 - ((y - cy) / h) ** 2 + 0.25 * np.sin(40 * x + 31 * y)
        rock = np.maximum(rock, np.clip(edge, 0, 1))
    headland = np.clip(1 - np.abs(x - (scene % 2)) / 0.34, 0, 1) * 0.10
    return np.maximum(rock, np.where((y < horizon) & (y > horizon - headland), 0.4, 0))


def _tinted(scene_l: F64, warm: F64, height: F64) -> F64:
    red = scene_l * (0.92 + 0.45 * np.clip(warm, 0, 1))
    blue = scene_l * (1.12 + 0.35 * height - 0.40 * np.clip(warm, 0, 1))
    return np.stack([red, scene_l, np.clip(blue, 0.01, None)], axis=2)


@dataclass(frozen=True, eq=False)
class Exposed:
    """One simulated frame: raw DN (4, ROWS, COLS) as the sensor lies, its pictures upright."""

    dn: F64
    thumb: bytes
    preview: bytes
    preview_codes: NDArray[np.uint8]


@lru_cache(maxsize=256)
def expose(
    scene: int,
    placement: float,
    *,
    cast: tuple[float, float, float] = (0.0, 0.0, 0.0),
    still: bool = False,
    grad: float = 0.0,
    dark: bool = False,
    turned: bool = False,
    seed: int = 1,
) -> Exposed:
    """Expose the scene: ``placement`` in stops over a well placed frame, cast in stops held."""
    light = radiance(scene, still, turned, seed) * (0.0 if dark else 1.0)
    light *= np.exp2(-np.asarray(cast))[None, None, :]
    edge = 1 / (1 + np.exp((np.linspace(0, 1, light.shape[0]) - 0.42) / 0.03))
    light *= np.exp2(-grad * edge)[:, None, None]
    full = CLIP_DN - BLACK_DN
    scale = full * 2.0 ** (placement - MID_STOPS)
    rng = np.random.default_rng(int(abs(placement) * 97) + scene)
    planes = []
    for name, index in (("R", 0), ("G1", 1), ("G2", 1), ("B", 2)):
        signal = light[:, :, index] * scale * SENSITIVITY[name]
        sigma = np.sqrt(READ_DN**2 + GAIN_DN * np.clip(signal, 0, None))
        planes.append(BLACK_DN + signal + rng.normal(0, 1, signal.shape) * sigma)
    dn = np.clip(np.round(np.stack(planes)), 0, CLIP_DN)
    rgb = np.stack([dn[0], dn[1], dn[3]], axis=2)
    linear = np.clip((rgb - BLACK_DN) / full, 0, 1) / np.array([0.55, 1.0, 0.68])
    codes = _toned(linear * 1.25)
    on_sensor = np.rot90(dn, 1, axes=(1, 2)) if turned else dn
    return Exposed(on_sensor, _jpeg(_toned(linear)), _jpeg(codes), codes)


def _toned(rgb: F64) -> NDArray[np.uint8]:
    return np.round(255 * np.clip(rgb, 0, 1) ** (1 / 2.4)).astype(np.uint8)


def _jpeg(codes: NDArray[np.uint8]) -> bytes:
    held = io.BytesIO()
    Image.fromarray(codes).save(held, "JPEG", quality=80)
    return held.getvalue()
