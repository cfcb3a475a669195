"""The solid part of the invented coast: a height field, and what a camera sees of it.

Metres: x to the right, z away from the camera, height over the sea. A place in the picture
is given by the tangents ``u = x / z`` (right) and ``v = (eye - height) / z`` (down from the
horizon).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from auditor.model.arrays import F32, I64, Bool
from sample_generation.textures import noise_tile, smooth, smoothstep

DEPTH_STEPS = 720
NEAREST_M, FARTHEST_M = 0.7, 4000.0


@dataclass(frozen=True, slots=True)
class Stack:
    """A rock that stands in the sea: place, radius and height in metres."""

    x: float
    z: float
    radius: float
    height: float


@dataclass(frozen=True, slots=True)
class Land:
    """One piece of coast.

    Parameters
    ----------
    seed : int
    shore_m : float
        How far away the beach ends.
    rough_m : float
        Height of the rocks in front.
    boulder_m : float
        Their size.
    eye_m : float
        Height of the camera over the sea.
    stacks : tuple of Stack
    headland : tuple of float or None
        Direction (tangent), distance and height of a far headland that falls to the sea there,
        and the side it rises to (-1 left, 1 right).
    """

    seed: int = 1
    shore_m: float = 14.0
    rough_m: float = 0.5
    boulder_m: float = 1.6
    eye_m: float = 2.2
    stacks: tuple[Stack, ...] = ()
    headland: tuple[float, float, float, int] | None = None

    def height(self, x: F32, z: F32) -> F32:
        """Height over the sea at places on the ground."""
        beach = 0.75 * (1.0 - z / self.shore_m)
        base = np.maximum(beach, -0.9 - 0.004 * z) + self._rocks(x, z) * smoothstep(
            2.6 * self.shore_m, 0.4 * self.shore_m, z
        )
        for stack in self.stacks:
            base = np.maximum(base, self._stack(stack, x, z))
        if self.headland is not None:
            base = np.maximum(base, self._headland(x, z))
        return np.asarray(base, dtype=np.float32)

    def _rocks(self, x: F32, z: F32) -> F32:
        big, fine = noise_tile(self.seed, 2.6), noise_tile(self.seed + 1, 2.2)
        scale = 14.0 / self.boulder_m
        rounded = np.abs(smooth(big, x * scale, z * scale))  # round tops, sharp clefts
        ledge = smooth(big, x * 3.0 + 70.0, z * 3.0)
        detail = smooth(fine, x * 42.0, z * 42.0)
        rocks: F32 = self.rough_m * (0.9 * rounded + 0.5 * ledge + 0.06 * detail - 0.35)
        return rocks

    def _stack(self, stack: Stack, x: F32, z: F32) -> F32:
        ragged = noise_tile(self.seed + 2, 2.6, 0.12)
        cells = 26.0 / stack.radius
        bump = smooth(ragged, x * cells + 90.0 + stack.z, z * cells)
        away = np.hypot(x - stack.x, (z - stack.z) * 0.8) / stack.radius
        crown = 1.0 - smoothstep(0.35, 1.25, np.asarray(away + 0.16 * bump, np.float32))
        return np.asarray(stack.height * (crown**0.6) * (1.0 + 0.10 * bump) - 1.2, np.float32)

    def _headland(self, x: F32, z: F32) -> F32:
        assert self.headland is not None
        direction, distance, height, side = self.headland
        ragged = noise_tile(self.seed + 3, 2.6)
        along = side * (x - direction * distance) / distance
        ridge = smooth(ragged, x * (120.0 / distance), z * 0.01)
        rise = height * (np.clip(along, 0.0, 1.2) ** 0.45) * (1.0 + 0.16 * ridge)
        near = smoothstep(0.8 * distance, distance, z)
        return np.asarray(rise * near - 3.0, dtype=np.float32)


@dataclass(frozen=True, slots=True, eq=False)
class Seen:
    """What each place in the picture shows.

    Parameters
    ----------
    solid, water : array of bool, shape (rows, cols)
        Land and sea; the rest is sky.
    x, z, height : array of float32
        Where the seen place lies; for water ``height`` is the ground under it (negative).
    normal : array of float32, shape (rows, cols, 3)
        Of the land: right, up, away.
    """

    solid: Bool
    water: Bool
    x: F32
    z: F32
    height: F32
    normal: F32


def see(land: Land, u: F32, v: F32) -> Seen:
    """Find the nearest surface for each column ``u`` and row ``v`` (both increasing).

    Walking away from the camera, the highest place so far hides what lies behind it; the row
    at which a depth step comes into sight is found for all steps at once.
    """
    z = np.geomspace(NEAREST_M, FARTHEST_M, DEPTH_STEPS, dtype=np.float32)[:, None]
    x = z * u[None, :]
    ground = land.height(x, np.broadcast_to(z, x.shape))
    top = (land.eye_m - np.maximum(ground, 0.0)) / z
    edge = np.minimum.accumulate(top, axis=0)
    step = _first_in_sight(edge, v)
    inside = np.clip(step, 1, DEPTH_STEPS - 1)
    before, after = (np.take_along_axis(edge, inside - n, axis=0) for n in (1, 0))
    share = np.clip((before - v[:, None]) / np.maximum(before - after, 1e-6), 0.0, 1.0)
    depth = z[inside - 1, 0] * (1 - share) + z[inside, 0] * share
    under, over = (np.take_along_axis(ground, inside - n, axis=0) for n in (1, 0))
    height = under * (1 - share) + over * share
    # a cliff begins where it leaves the water, however deep the step before lies under it
    solid = (step < DEPTH_STEPS) & (np.maximum(under, -0.02) * (1 - share) + over * share > 0.0)
    sideways = (depth * u[None, :]).astype(np.float32)
    return Seen(
        solid=solid,
        water=((v[:, None] > 0.0) & ~solid),
        x=sideways,
        z=depth.astype(np.float32),
        height=np.where(solid, np.maximum(height, 0.0), np.minimum(height, 0.0)),
        normal=_normals(land, sideways, depth.astype(np.float32), solid),
    )


def _first_in_sight(edge: F32, v: F32) -> I64:
    """Index of the first depth step whose edge lies at or above each row, shape (rows, cols)."""
    rows, cols = len(v), edge.shape[1]
    row = np.searchsorted(v, edge)  # the first row at or under the edge
    flat = row * cols + np.arange(cols)[None, :]
    counts = np.bincount(flat.ravel(), minlength=(rows + 1) * cols).reshape(rows + 1, cols)
    # steps that come into sight at a later (lower) row lie in front of what is seen here
    from_below = np.cumsum(counts[::-1], axis=0)[::-1]
    return np.asarray(from_below[1:], dtype=np.int64)


def _normals(land: Land, x: F32, z: F32, solid: Bool) -> F32:
    normal = np.zeros((*x.shape, 3), dtype=np.float32)
    normal[..., 1] = 1.0
    xs, zs = x[solid], z[solid]
    reach = np.maximum(0.03, 0.004 * zs)
    here = land.height(xs, zs)
    slope_x = (land.height(xs + reach, zs) - here) / reach
    slope_z = (land.height(xs, zs + reach) - here) / reach
    length = np.sqrt(slope_x**2 + slope_z**2 + 1.0)
    normal[solid] = np.stack([-slope_x, np.ones_like(slope_x), -slope_z], 1) / length[:, None]
    return normal
