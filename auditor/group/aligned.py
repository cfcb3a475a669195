"""Frames brought onto one grid, and what the others let expect of one of them, tile by tile."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from auditor.group.limits import STEADY_TILES
from auditor.group.tile_image import TileImage
from auditor.model.arrays import F32


@dataclass(frozen=True, slots=True, eq=False)
class AlignedFrame:
    """A frame as one of several that a filtered frame is held against.

    Parameters
    ----------
    image : TileImage
    settings_stops : float
        What its settings record, on any common scale.
    shift : (right, down)
        Tiles, on any common scale.
    """

    image: TileImage
    settings_stops: float
    shift: tuple[float, float]

    def onto(self, grid: tuple[float, float], colour: int, floors: float) -> F32:
        """Return its stops less its settings, moved by parts of tiles onto a grid."""
        from scipy import ndimage  # noqa: PLC0415 - slow to load, and a lone frame needs none

        right, down = self.shift[0] - grid[0], self.shift[1] - grid[1]
        if max(abs(right), abs(down)) < STEADY_TILES:
            return self.image.stops(colour, floors) - np.float32(self.settings_stops)
        signal = self.image.signal(colour)
        least = max(floors * self.image.floor_dn[colour], 1e-3)
        signal = np.where(signal >= least, signal, np.float32(np.nan))
        moved = ndimage.shift(signal, (-down, -right), order=1, mode="constant", cval=np.nan)
        stops: F32 = np.log2(moved) - np.float32(self.settings_stops)
        return stops


@dataclass(frozen=True, slots=True, eq=False)
class Comparison:
    """A frame beside others whose weighted mean tells what it should have recorded.

    All are brought to a place half-way between, so that a shift by a part of a tile softens
    the frame and the others alike. Tiles that any fails to record are NaN.

    Parameters
    ----------
    frame : AlignedFrame
    others : sequence of (AlignedFrame, weight)
        Weights sum to 1.
    """

    frame: AlignedFrame
    others: Sequence[tuple[AlignedFrame, float]]

    @property
    def grid(self) -> tuple[float, float]:
        """The shift (right, down) of the place half-way between."""
        right, down = (sum(other.shift[i] for other, _ in self.others) for i in (0, 1))
        right, down = right / len(self.others), down / len(self.others)
        own_right, own_down = self.frame.shift
        if max(abs(right - own_right), abs(down - own_down)) < STEADY_TILES:
            return right, down
        return (right + own_right) / 2.0, (down + own_down) / 2.0

    def each(self, colour: int, floors: float) -> list[F32]:
        """Return what each of the others recorded, stops less its settings."""
        return [other.onto(self.grid, colour, floors) for other, _ in self.others]

    def mean(self, parts: Sequence[F32]) -> F32:
        """Return the weighted mean of a picture of each of the others."""
        weights = (np.float32(weight) for _, weight in self.others)
        weighted = [weight * part for weight, part in zip(weights, parts, strict=True)]
        return np.asarray(np.sum(weighted, axis=0), dtype=np.float32)

    def expected(self, colour: int, floors: float) -> F32:
        """Return the stops that the others let expect, less settings."""
        return self.mean(self.each(colour, floors))

    def difference(self, colour: int, floors: float) -> F32:
        """Return by how many stops the frame was held back."""
        return self.expected(colour, floors) - self.frame.onto(self.grid, colour, floors)
