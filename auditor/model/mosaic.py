"""A decoded frame as the measures see it: pixels, pattern, and what the file claims of them."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from auditor.model.arrays import F64, U8, U16
from auditor.model.codes import Layout

PLANE_NAMES: dict[Layout, tuple[str, ...]] = {
    Layout.BAYER: ("R", "G1", "G2", "B"),
    Layout.XTRANS: ("R", "G", "B"),
    Layout.MONO: ("L",),
    Layout.LINEAR: ("R", "G", "B"),
}
"""Planes in the order of every array and record. G1 shares its rows with red, G2 with blue."""


@dataclass(frozen=True, slots=True)
class BlackLevels:
    """The black level of each place, as the file tells it.

    Parameters
    ----------
    pattern_dn : array, shape (rows, cols)
        Repeats over the picture from the top-left visible pixel; one value per place.
        For layout "linear" the shape is (1, 1, planes).
    row_dn, column_dn : array or None
        Added per visible row (height) and per visible column (width).
    """

    pattern_dn: F64
    row_dn: F64 | None = None
    column_dn: F64 | None = None


@dataclass(frozen=True, slots=True)
class MaskedArea:
    """Pixels that light does not reach, beside the picture.

    Parameters
    ----------
    pixels : array of uint16, shape (h, w)
    top, left : int
        Place of its first pixel relative to the top-left visible pixel (often negative).
    """

    pixels: U16
    top: int
    left: int


@dataclass(frozen=True, slots=True)
class Mosaic:
    """The visible pixels of one frame, linear sensor data, with the facts to read them by.

    Parameters
    ----------
    pixels : array of uint16
        (height, width), or (height, width, 3) for layout "linear". A view into the decoder's
        memory: valid only while the file is open, never to be kept or written to.
    layout : Layout
    pattern : array of uint8, shape (rows, cols)
        Index into :attr:`plane_names` per place, from the top-left visible pixel.
        2 x 2 for Bayer, 6 x 6 for X-Trans, 1 x 1 for mono; (1, 1) of zero for linear.
    black : BlackLevels
    masked : tuple of MaskedArea
        Copies (small), or empty.
    white_dn : tuple of float
        The saturation claimed by the file, per plane, black not subtracted.
    linear_limit_dn : tuple of float or None
        Where the file says linearity ends, per plane.
    bit_depth : int
        Bits per sample as recorded.
    white_balance : dict
        As-shot multipliers by "R", "G", "B", green 1; empty where unknown.
    noise_profile : dict
        Plane name to (S, O): ``sigma² = S x + O`` with x = signal / (white - black).
    pixel_aspect : float
        Width of a pixel over its height.
    """

    pixels: U16
    layout: Layout
    pattern: U8
    black: BlackLevels
    white_dn: tuple[float, ...]
    bit_depth: int
    masked: tuple[MaskedArea, ...] = ()
    linear_limit_dn: tuple[float, ...] | None = None
    white_balance: dict[str, float] = field(default_factory=dict)
    noise_profile: dict[str, tuple[float, float]] = field(default_factory=dict)
    pixel_aspect: float = 1.0

    @property
    def plane_names(self) -> tuple[str, ...]:
        """Names of the planes, in order."""
        return PLANE_NAMES[self.layout]

    @property
    def height(self) -> int:
        """Visible rows."""
        return int(self.pixels.shape[0])

    @property
    def width(self) -> int:
        """Visible columns."""
        return int(self.pixels.shape[1])

    def plane_pixels(self) -> tuple[int, ...]:
        """Count of pixels per plane: pattern places times repeats, edges counted exactly."""
        if self.layout is Layout.LINEAR:
            return (self.height * self.width,) * 3
        rows, cols = self.pattern.shape
        counts = np.zeros(len(self.plane_names), dtype=np.int64)
        for y in range(rows):
            for x in range(cols):
                down = len(range(y, self.height, rows))
                across = len(range(x, self.width, cols))
                counts[self.pattern[y, x]] += down * across
        return tuple(int(count) for count in counts)


@dataclass(frozen=True, slots=True, eq=False)
class CameraPreview:
    """The camera's own rendering, as it lies on the sensor.

    Parameters
    ----------
    pixels : array of uint8, shape (rows, cols, 3)
        RGB; smaller than the preview where that is large.
    width, height : int
        The preview's own size.
    broken : bool
        Its data hold what no sound preview can.
    """

    pixels: U8
    width: int
    height: int
    broken: bool = False
