"""A frame reduced to what grouping needs: a small upright picture of its signal, per colour.

Tiles are pooled to at most 96 on the longer side and kept in half precision where that does: 70 KB
a frame, 94 KB where it has blown and blocked parts; 8 of them are patches as the store holds them.
Those of many frames lie in files meanwhile (:mod:`auditor.files.laid`).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import reduce
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from auditor.clipping.maps import cut_tiles, sensor_maps
from auditor.model.arrays import F32
from auditor.model.codes import Layout
from auditor.model.measurement import Patches
from auditor.model.orientation import as_on_sensor, upright
from auditor.model.settled import SettledFrame
from auditor.model.shoot import ShootFrame
from auditor.noise.limits import DARK_FRAME_BLOCKED

LONGEST = 96
"""Most tiles on the longer side of a image."""

MOST_DN = float(np.finfo(np.float16).max)
"""What half precision holds: 65504; tiles above it clip in any file of 16 bits."""


class Pixels(Protocol):
    """The tiles of one image, at hand or fetched when they are asked for."""

    @property
    def whole(self) -> TilePixels:
        """All of them."""
        ...


@dataclass(frozen=True, slots=True, eq=False)
class TilePixels:
    """The tiles of one image.

    Parameters
    ----------
    signal_dn : tuple of array, shape (rows, cols)
        Mean signal of each colour, black subtracted; NaN where a part of the tile clips. float32
        for the main colour, by which frames are placed and levels told; the others, asked for
        casts only, are float16 (0.0007 stops). To be asked by :meth:`TileImage.signal`.
    lost_bright, lost_dark : array of float16, shape (rows, cols)
        Share of the tile where any plane is blown; where every plane is under its floor.
    detail : array of float16, shape (rows, cols)
        As measured; NaN where it could not be told.
    patches : Patches or None
        As measured, packed, on the sensor.
    """

    signal_dn: tuple[F32 | NDArray[np.float16], ...]
    lost_bright: NDArray[np.float16]
    lost_dark: NDArray[np.float16]
    detail: NDArray[np.float16]
    patches: Patches | None = None

    @property
    def whole(self) -> TilePixels:
        """These very ones."""
        return self


@dataclass(frozen=True, slots=True, eq=False, weakref_slot=True)
class TileImage:
    """One frame in tiles, upright.

    Parameters
    ----------
    colours : tuple of str
        "R", "G", "B" (G1 and G2 averaged), or "L".
    pixels : Pixels
    shape : (int, int)
        (rows, cols) of tiles.
    floor_dn : tuple of float
        Noise floor of each colour.
    floor_known : bool
        False where a cautious guess stands in for an unmeasured floor.
    room_dn : tuple of float
        Saturation less black of each colour.
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
    orientation : int
        Exif orientation by which it was turned upright.
    """

    colours: tuple[str, ...]
    pixels: Pixels
    shape: tuple[int, int]
    floor_dn: tuple[float, ...]
    floor_known: bool
    room_dn: tuple[float, ...]
    tile_px: int
    height_px: int
    width_px: int
    top_px: int = 0
    left_px: int = 0
    orientation: int = 1

    @property
    def lost_bright(self) -> NDArray[np.float16]:
        """Share of each tile where any plane is blown."""
        return self.pixels.whole.lost_bright

    @property
    def lost_dark(self) -> NDArray[np.float16]:
        """Share of each tile where every plane is under its floor."""
        return self.pixels.whole.lost_dark

    @property
    def detail(self) -> NDArray[np.float16]:
        """Fine detail; NaN where it could not be told."""
        return self.pixels.whole.detail

    @property
    def main(self) -> int:
        """Index of the colour that levels are told by: green, or the only one."""
        return _main(self.colours)

    @property
    def is_dark(self) -> bool:
        """Whether nothing was in front of the lens but its cap."""
        brightest = np.nan_to_num(self.signal(self.main), nan=np.inf).max()
        unlit = float((self.lost_dark > 0.5).mean()) >= DARK_FRAME_BLOCKED
        return bool(unlit and brightest < 16.0 * self.floor_dn[self.main])

    def signal(self, colour: int) -> F32:
        """Return one colour's signal to calculate with, shape (rows, cols)."""
        return self.pixels.whole.signal_dn[colour].astype(np.float32, copy=False)

    def stops(self, colour: int, floors: float = 4.0) -> F32:
        """Return log2 of one colour's signal; NaN where blown or under ``floors`` noise floors.

        Returns
        -------
        array of float32, shape (rows, cols)
        """
        signal = self.signal(colour)
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


_NO_TILES = np.zeros((0, 0), np.float16)

UNSEEN = TileImage(
    colours=(),
    pixels=TilePixels((), _NO_TILES, _NO_TILES, _NO_TILES),
    shape=(0, 0),
    floor_dn=(),
    floor_known=False,
    room_dn=(),
    tile_px=0,
    height_px=0,
    width_px=0,
)
"""Stands for the picture of a frame while frames are put in order, and none is looked at."""


def _main(colours: tuple[str, ...]) -> int:
    return colours.index("G") if "G" in colours else 0


def _inside(first_px: int, count: int, tile_px: int, length_px: int) -> NDArray[np.float64]:
    """Return how many pixels of each tile in a line lie between 0 and the line's length."""
    edges = np.clip(first_px + tile_px * np.arange(count + 1), 0, length_px)
    return np.diff(edges).astype(np.float64)


def tile_image(frame: ShootFrame) -> TileImage:
    """Reduce one frame; its measurement is fetched once and let go."""
    return reduced(frame.settled())


def reduced(frame: SettledFrame) -> TileImage:
    """Pool the tiles of one frame by colour and turn them upright."""
    maps, factor = sensor_maps(frame), max(1, math.ceil(max(frame.maps.shape) / LONGEST))
    mono, cut = frame.mosaic.layout is Layout.MONO, cut_tiles(frame)
    groups = {"L": [0]} if mono else {colour: frame.indices(colour) for colour in "RGB"}
    blown = np.where(cut.any(axis=0), maps.any_blown, 0.0)
    area = np.maximum(maps.weight, 1e-12)

    def pooled(tiles: NDArray[Any]) -> NDArray[Any]:
        return _upright(_pooled(tiles, factor), frame.orientation)

    signal = [
        np.where(cut[planes].any(axis=0), np.nan, frame.maps.mean_dn[planes].mean(axis=0))
        for planes in groups.values()
    ]
    signal_dn = pooled(np.stack(signal).astype(np.float32))
    tile_px, (height_px, width_px) = frame.maps.tile_px * factor, frame.upright_size
    rows, cols = signal_dn.shape[1:]
    main = _main(tuple(groups))
    return TileImage(
        colours=tuple(groups),
        pixels=TilePixels(
            signal_dn=tuple(
                one.copy() if colour == main else np.minimum(one, MOST_DN).astype(np.float16)
                for colour, one in enumerate(signal_dn)
            ),
            lost_bright=_share(pooled(blown * area) / pooled(area)),
            lost_dark=_share(pooled(maps.unlit * area) / pooled(area)),
            detail=pooled(frame.maps.detail).astype(np.float16),
            patches=frame.measurement.patches,
        ),
        shape=(rows, cols),
        floor_dn=tuple(max(frame.planes[i].least_dn for i in part) for part in groups.values()),
        floor_known=maps.floors_known,
        room_dn=tuple(min(frame.planes[i].span_dn for i in part) for part in groups.values()),
        tile_px=tile_px,
        height_px=height_px,
        width_px=width_px,
        top_px=height_px - rows * tile_px if _turned_over(frame.orientation) else 0,
        left_px=width_px - cols * tile_px if _turned_about(frame.orientation) else 0,
        orientation=frame.orientation or 1,
    )


def turned_like(image: TileImage, orientation: int) -> TileImage:
    """Turn an image as one with another orientation tag: the same pixels of the sensor meet."""

    def turn(tiles: NDArray[Any]) -> NDArray[Any]:
        axis = tiles.ndim - 2
        return _upright(as_on_sensor(tiles, image.orientation, rows_axis=axis), orientation)

    aside = (image.orientation in (5, 6, 7, 8)) != (orientation in (5, 6, 7, 8))
    size = image.height_px, image.width_px
    height_px, width_px = (size[1], size[0]) if aside else size
    own = image.pixels.whole
    rows, cols = image.shape[::-1] if aside else image.shape
    return replace(
        image,
        pixels=TilePixels(
            signal_dn=tuple(map(turn, own.signal_dn)),
            lost_bright=turn(own.lost_bright),
            lost_dark=turn(own.lost_dark),
            detail=turn(own.detail),
            patches=own.patches,
        ),
        shape=(rows, cols),
        height_px=height_px,
        width_px=width_px,
        top_px=height_px - rows * image.tile_px if _turned_over(orientation) else 0,
        left_px=width_px - cols * image.tile_px if _turned_about(orientation) else 0,
        orientation=orientation,
    )


def _share(tiles: NDArray[Any]) -> NDArray[np.float16]:
    """Keep shares in half precision; where all are zero, one zero serves for all."""
    shares = tiles.astype(np.float16)
    return shares if shares.any() else np.broadcast_to(np.float16(0.0), shares.shape)


def _turned_over(orientation: int | None) -> bool:
    """Whether the sensor's last rows or columns are the top of the upright picture."""
    return orientation in (3, 4, 7, 8)


def _turned_about(orientation: int | None) -> bool:
    """Whether the sensor's last rows or columns are the left of the upright picture."""
    return orientation in (2, 3, 6, 7)


def _pooled(tiles: F32, factor: int) -> F32:
    """Average ``factor`` x ``factor`` tiles over the last two axes; NaN stays NaN.

    A side of fewer tiles than that becomes one.
    """
    if factor == 1:
        return tiles
    high, wide = (min(factor, n) for n in tiles.shape[-2:])
    rows, cols = tiles.shape[-2] // high, tiles.shape[-1] // wide
    cut = tiles[..., : rows * high, : cols * wide]
    # part by part: numpy's mean over short axes takes fifty times as long
    lines = (
        reduce(np.add, (cut[..., down::high, right::wide] for right in range(wide)))
        for down in range(high)
    )
    pooled: F32 = reduce(np.add, lines) / tiles.dtype.type(high * wide)
    return pooled


def _upright(tiles: F32, orientation: int | None) -> F32:
    return np.ascontiguousarray(upright(tiles, orientation, rows_axis=tiles.ndim - 2))
