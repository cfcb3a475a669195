"""A frame reduced to what grouping needs: a small upright picture of its signal, per colour.

Tiles are pooled to at most 96 on the longer side, so that thousands of frames fit in memory:
about 110 KB a frame.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from auditor.model.arrays import F32, Bool
from auditor.model.measurement import MosaicMeasurement
from auditor.model.mosaic import Layout
from auditor.model.orientation import upright
from auditor.model.shoot import ShootFrame

LONGEST = 96
"""Most tiles on the longer side of a plate."""

FLOOR_UNKNOWN_STOPS = 10.0
"""Where the noise floor was not measured, tones this far under saturation are left alone."""

HOT_SHARE, HOT_TONE = 0.004, 0.2
"""A tile whose mean is under this share of saturation and in which fewer pixels than this clip
holds hot pixels, not lost light."""

COUNTED_SHARE = 0.5
"""Where a tile's mean lies at the clipping level, more of its pixels than this are counted as
blown, if they were counted against that level."""

DARK_TILES = 0.995
"""Share of tiles under the floor from which a frame has no picture: its cap was on."""

GREENS = ("G", "G1", "G2")


@dataclass(frozen=True, slots=True, eq=False)
class Plate:
    """One frame in tiles, upright.

    Parameters
    ----------
    colours : tuple of str
        "R", "G", "B" (G1 and G2 averaged), or "L".
    signal_dn : array of float32, shape (colours, rows, cols)
        Mean signal, black subtracted; NaN where a part of the tile clips.
    floor_dn : tuple of float
        Noise floor of each colour.
    floor_known : bool
        False where a cautious guess stands in for an unmeasured floor.
    room_dn : tuple of float
        Saturation less black of each colour.
    lost_bright, lost_dark : array of float16, shape (rows, cols)
        Share of the tile where any plane is blown; where every plane is under its floor.
    detail : array of float16, shape (rows, cols)
        As measured; NaN where it could not be told.
    tile_px : int
        Sensor pixels a tile, each way.
    height_px, width_px : int
        Of the upright picture.
    top_px : int
        Where the first row of tiles begins: tiles count from the sensor's own corner, so in a
        picture turned over they begin under the top, or (the last one reaching beyond the
        sensor) above it.
    left_px : int
        Where the first column begins, likewise.
    """

    colours: tuple[str, ...]
    signal_dn: F32
    floor_dn: tuple[float, ...]
    floor_known: bool
    room_dn: tuple[float, ...]
    lost_bright: NDArray[np.float16]
    lost_dark: NDArray[np.float16]
    detail: NDArray[np.float16]
    tile_px: int
    height_px: int
    width_px: int
    top_px: int = 0
    left_px: int = 0

    @property
    def shape(self) -> tuple[int, int]:
        """(rows, cols) of tiles."""
        return int(self.signal_dn.shape[1]), int(self.signal_dn.shape[2])

    @property
    def main(self) -> int:
        """Index of the colour that levels are told by: green, or the only one."""
        return self.colours.index("G") if "G" in self.colours else 0

    @property
    def is_dark(self) -> bool:
        """Whether nothing was in front of the lens but its cap."""
        brightest = np.nan_to_num(self.signal_dn[self.main], nan=np.inf).max()
        unlit = float((self.lost_dark > 0.5).mean()) >= DARK_TILES
        return bool(unlit and brightest < 16.0 * self.floor_dn[self.main])

    def stops(self, colour: int, floors: float = 4.0) -> F32:
        """Return log2 of one colour's signal; NaN where blown or under ``floors`` noise floors.

        Returns
        -------
        array of float32, shape (rows, cols)
        """
        signal = self.signal_dn[colour]
        least = max(floors * self.floor_dn[colour], 1e-3)
        return np.log2(np.where(signal >= least, signal, np.float32(np.nan)))

    def row_shares(self) -> NDArray[np.float64]:
        """Return the middle of each row of tiles as a share of the height from the top."""
        return np.array([self.row_edge(row + 0.5) for row in range(self.shape[0])])

    def row_edge(self, row: float) -> float:
        """Return where a row of tiles begins, as a share of the height from the top."""
        return (self.top_px + row * self.tile_px) / self.height_px

    def areas(self) -> NDArray[np.float64]:
        """Return each tile's share of all that the tiles cover of the picture.

        Tiles at an edge may reach beyond it: what lies there counts for nothing.

        Returns
        -------
        array, shape (rows, cols)
            Sums to 1.
        """
        rows, cols = self.shape
        down = _inside(self.top_px, rows, self.tile_px, self.height_px)
        across = _inside(self.left_px, cols, self.tile_px, self.width_px)
        areas: NDArray[np.float64] = np.outer(down, across) / max(1.0, down.sum() * across.sum())
        return areas


def _inside(first_px: int, count: int, tile_px: int, length_px: int) -> NDArray[np.float64]:
    """Return how many pixels of each tile in a line lie between 0 and the line's length."""
    edges = np.clip(first_px + tile_px * np.arange(count + 1), 0, length_px)
    return np.diff(edges).astype(np.float64)


def plate_of(frame: ShootFrame) -> Plate:
    """Reduce one frame; its measurement is fetched once and let go."""
    return reduced(frame.measured.mosaic, frame)


def reduced(mosaic: MosaicMeasurement, frame: ShootFrame) -> Plate:
    """Pool the tiles of one mosaic by colour and turn them upright."""
    orientation = frame.facts.orientation
    factor = max(1, math.ceil(max(mosaic.maps.shape) / LONGEST))
    clipped = _clipped(mosaic, frame)
    groups = _colour_planes(mosaic)
    signal = np.stack([_colour_signal(mosaic, clipped, planes) for planes in groups.values()])
    floors = [_floor(mosaic, frame, planes) for planes in groups.values()]
    areas = _areas(mosaic)
    lost_bright, lost_dark = (
        _upright(_pooled(lost * areas, factor) / _pooled(areas, factor), orientation)
        for lost in _lost(mosaic, frame, clipped)
    )
    tile_px = mosaic.maps.tile_px * factor
    height_px, width_px = _upright_size(mosaic, orientation)
    turned_signal = _upright(_pooled(signal, factor), orientation).astype(np.float32)
    return Plate(
        colours=tuple(groups),
        signal_dn=turned_signal,
        floor_dn=tuple(floor for floor, _ in floors),
        floor_known=all(known for _, known in floors),
        room_dn=tuple(_room(mosaic, frame, planes) for planes in groups.values()),
        lost_bright=lost_bright.astype(np.float16),
        lost_dark=lost_dark.astype(np.float16),
        detail=_upright(_pooled(mosaic.maps.detail, factor), orientation).astype(np.float16),
        tile_px=tile_px,
        height_px=height_px,
        width_px=width_px,
        top_px=height_px - turned_signal.shape[1] * tile_px if _turned_over(orientation) else 0,
        left_px=width_px - turned_signal.shape[2] * tile_px if _turned_about(orientation) else 0,
    )


def _upright_size(mosaic: MosaicMeasurement, orientation: int | None) -> tuple[int, int]:
    """Return height and width of the upright picture."""
    sides_swap = orientation in (5, 6, 7, 8)
    size = mosaic.height, mosaic.width
    return (size[1], size[0]) if sides_swap else size


def _turned_over(orientation: int | None) -> bool:
    """Whether the sensor's last rows or columns are the top of the upright picture."""
    return orientation in (3, 4, 7, 8)


def _turned_about(orientation: int | None) -> bool:
    """Whether the sensor's last rows or columns are the left of the upright picture."""
    return orientation in (2, 3, 6, 7)


def _colour_planes(mosaic: MosaicMeasurement) -> dict[str, list[int]]:
    names = [plane.name for plane in mosaic.planes]
    if mosaic.layout is Layout.MONO:
        return {"L": [0]}
    greens = [i for i, name in enumerate(names) if name in GREENS]
    return {"R": [names.index("R")], "G": greens, "B": [names.index("B")]}


def _clipped(mosaic: MosaicMeasurement, frame: ShootFrame) -> Bool:
    """Tell per plane and tile whether any of its light was cut; lone hot pixels do not count."""
    maps = mosaic.maps
    blown_from = np.array([level.blown_from_dn for level in frame.levels])[:, None, None]
    rooms = np.array(
        [lv.saturation_dn - pl.black_dn for lv, pl in zip(frame.levels, mosaic.planes, strict=True)]
    )[:, None, None]
    hot = (maps.over_share < HOT_SHARE) & (maps.mean_dn < HOT_TONE * rooms)
    clipped: Bool = (maps.max_dn >= blown_from) & ~hot
    return clipped


def _colour_signal(mosaic: MosaicMeasurement, clipped: Bool, planes: list[int]) -> F32:
    signal = mosaic.maps.mean_dn[planes].mean(axis=0)
    return np.where(clipped[planes].any(axis=0), np.float32(np.nan), signal).astype(np.float32)


def _room(mosaic: MosaicMeasurement, frame: ShootFrame, planes: list[int]) -> float:
    """Return saturation over black: 1 DN at the least, whatever a damaged file claims."""
    rooms = [frame.levels[i].saturation_dn - mosaic.planes[i].black_dn for i in planes]
    return max(1.0, min(rooms))


def _floor(mosaic: MosaicMeasurement, frame: ShootFrame, planes: list[int]) -> tuple[float, bool]:
    """Return the floor of one colour and whether it was measured."""
    floors = [mosaic.planes[i].noise.floor_dn for i in planes]
    known = [floor for floor in floors if floor is not None]
    if len(known) == len(floors):
        return max(known), True
    return _room(mosaic, frame, planes) * 2.0**-FLOOR_UNKNOWN_STOPS, False


def _lost(mosaic: MosaicMeasurement, frame: ShootFrame, clipped: Bool) -> tuple[F32, F32]:
    """Return the share of each tile that is blown, and whether all planes are under the floor.

    Shares were counted before the shoot settled where each plane clips. A tile whose mean lies at
    that level though hardly a pixel was counted is blown all the same.
    """
    maps = mosaic.maps
    whole = [
        maps.mean_dn[i] + plane.black_dn >= 0.995 * level.blown_from_dn
        for i, (plane, level) in enumerate(zip(mosaic.planes, frame.levels, strict=True))
    ]
    shares = np.where(clipped.any(axis=0), maps.any_over_share, 0.0)
    missed = np.any(whole, axis=0) & (shares < COUNTED_SHARE)
    bright = np.where(missed, 1.0, shares)
    floors = [_floor(mosaic, frame, [i])[0] for i in range(len(mosaic.planes))]
    under = maps.mean_dn < np.array(floors)[:, None, None]
    return np.asarray(bright, np.float32), np.asarray(under.all(axis=0), np.float32)


def _areas(mosaic: MosaicMeasurement) -> F32:
    """Return by how much of its area each tile lies on the sensor."""
    rows, cols = mosaic.maps.shape
    tile_px = mosaic.maps.tile_px
    down = _inside(0, rows, tile_px, mosaic.height)
    across = _inside(0, cols, tile_px, mosaic.width)
    return np.maximum(np.outer(down, across) / tile_px**2, 1e-6).astype(np.float32)


def _pooled(tiles: F32, factor: int) -> F32:
    """Average ``factor`` x ``factor`` tiles over the last two axes; NaN stays NaN.

    A side of fewer tiles than that becomes one.
    """
    if factor == 1:
        return tiles
    high, wide = (min(factor, n) for n in tiles.shape[-2:])
    rows, cols = tiles.shape[-2] // high, tiles.shape[-1] // wide
    cut = tiles[..., : rows * high, : cols * wide]
    shape = (*tiles.shape[:-2], rows, high, cols, wide)
    pooled: F32 = cut.reshape(shape).mean(axis=(-3, -1))
    return pooled


def _upright(tiles: F32, orientation: int | None) -> F32:
    return np.ascontiguousarray(upright(tiles, orientation, rows_axis=tiles.ndim - 2))
