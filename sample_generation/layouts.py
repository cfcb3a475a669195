"""How colour lies on the simulated sensors: seven layouts in the plane order of the audit."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from auditor.model.arrays import U8
from auditor.model.codes import Layout
from auditor.model.mosaic import PLANE_NAMES

BAYER_ORDERS = ("RGGB", "GRBG", "GBRG", "BGGR")
LAYOUT_NAMES = (*BAYER_ORDERS, "XTRANS", "MONO", "LINEAR")
"""Bayer orders are named by their first 2 x 2 visible pixels, row by row."""

XTRANS_ROWS = ("GBGGRG", "RGRBGB", "GBGGRG", "GRGGBG", "BGBRGR", "GRGGBG")
"""One of the rotations of the 6 x 6 pattern: 20 green, 8 red, 8 blue places."""

RGB_CHANNEL = {"R": 0, "G": 1, "G1": 1, "G2": 1, "B": 2}
"""Index of the light that each plane sees in (..., 3) radiance; mono sees the mean of three."""


@dataclass(frozen=True, slots=True, eq=False)
class ColourLayout:
    """A layout with its pattern from the top-left visible pixel.

    Parameters
    ----------
    name : str
        One of :data:`LAYOUT_NAMES`.
    layout : Layout
    pattern : array of uint8, shape (rows, cols)
        Index into ``planes`` per place.
    planes : tuple of str
        Names in the order of the audit.
    """

    name: str
    layout: Layout
    pattern: U8
    planes: tuple[str, ...]

    def channel(self, plane: int) -> int:
        """Index of the radiance channel that a plane sees; KeyError for mono."""
        return RGB_CHANNEL[self.planes[plane]]

    def places(self) -> list[tuple[int, int, int]]:
        """(row, column, plane) for each place of the pattern."""
        rows, cols = self.pattern.shape
        return [(y, x, int(self.pattern[y, x])) for y in range(rows) for x in range(cols)]


def colour_layout(name: str) -> ColourLayout:
    """Return the layout of that name.

    Raises
    ------
    ValueError
        There is no such layout.
    """
    if name in BAYER_ORDERS:
        return ColourLayout(name, Layout.BAYER, _bayer(name), PLANE_NAMES[Layout.BAYER])
    if name == "XTRANS":
        return ColourLayout(name, Layout.XTRANS, _xtrans(), PLANE_NAMES[Layout.XTRANS])
    single = np.zeros((1, 1), dtype=np.uint8)
    if name in ("MONO", "LINEAR"):
        layout = Layout(name.lower())
        return ColourLayout(name, layout, single, PLANE_NAMES[layout])
    raise ValueError(f"no layout {name!r}; there are {', '.join(LAYOUT_NAMES)}")


def _bayer(order: str) -> U8:
    rows = (order[:2], order[2:])
    index = {"R": 0, "B": 3}
    pattern = [[index.get(c, 1 if "R" in row else 2) for c in row] for row in rows]
    return np.array(pattern, dtype=np.uint8)


def _xtrans() -> U8:
    return np.array([["RGB".index(c) for c in row] for row in XTRANS_ROWS], dtype=np.uint8)
