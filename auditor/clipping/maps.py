"""Where in the picture: maps of blown and blocked tiles, thirds, largest patches. All upright."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache, partial

import numpy as np

from auditor.clipping.limits import (
    HOT_SHARE,
    HOT_TONE,
    MEAN_ERROR,
    SAME_COUNT_SHARE,
    WHOLLY,
)
from auditor.clipping.patches import largest_patch
from auditor.model.arrays import F32, F64, Bool
from auditor.model.audit import Patch
from auditor.model.orientation import upright
from auditor.model.settled import SettledFrame


@dataclass(frozen=True, slots=True, eq=False)
class ClipMaps:
    """Shares a tile, with the share of the frame that each tile covers.

    Parameters
    ----------
    planes : array of float32, shape (planes, rows, cols)
        Share of the tile in which each plane is blown.
    any_blown, all_blown : array of float32, shape (rows, cols)
        Share of the tile in which any plane, and every plane, is blown.
    unlit : array of bool
        Where every plane lies under its floor: one rule for what is drawn, counted, judged, paired
        and blended. A cautious guess stands in for a floor that was not measured.
    floors_known : bool
        Whether every floor was measured.
    weight : array of float64
        Share of the frame; sums to 1.
    """

    planes: F32
    any_blown: F32
    all_blown: F32
    unlit: Bool
    floors_known: bool
    weight: F64

    @property
    def blocked(self) -> Bool | None:
        """Where every plane lies under its floor; None where a floor is unknown."""
        return self.unlit if self.floors_known else None

    @property
    def lost(self) -> Bool:
        """Tiles lost in some plane: what is drawn as blown area."""
        lost: Bool = self.any_blown >= WHOLLY
        return lost

    @property
    def specks(self) -> Bool:
        """Tiles in which something is blown, but less than half: what is drawn as points."""
        specks: Bool = (self.any_blown > 0) & ~self.lost
        return specks

    @property
    def blown_fraction(self) -> float:
        """Share of the frame where any plane is blown."""
        return float((self.any_blown * self.weight).sum())

    @property
    def blown_all_fraction(self) -> float:
        """Share of the frame where every plane is blown."""
        return float((self.all_blown * self.weight).sum())

    @property
    def blocked_fraction(self) -> float | None:
        """Share of the frame where every plane is under its floor."""
        return None if self.blocked is None else min(1.0, float(self.weight[self.blocked].sum()))


def clip_maps(frame: SettledFrame) -> ClipMaps:
    """Make the maps of one frame, upright: the one answer to where it is blown or blocked."""
    maps, turn = sensor_maps(frame), partial(upright, orientation=frame.orientation)
    return ClipMaps(
        planes=upright(maps.planes, frame.orientation, rows_axis=1),
        any_blown=turn(maps.any_blown),
        all_blown=turn(maps.all_blown),
        unlit=turn(maps.unlit),
        floors_known=maps.floors_known,
        weight=turn(maps.weight),
    )


@lru_cache(maxsize=1)  # a frame that is judged is then reduced, to be held against others
def sensor_maps(frame: SettledFrame) -> ClipMaps:
    """Make the same maps as the sensor lies."""
    shares, any_blown, all_blown = _blown_shares(frame)
    floors = np.array([plane.least_dn for plane in frame.planes], np.float32)[:, None, None]
    return ClipMaps(
        planes=shares,
        any_blown=any_blown,
        all_blown=all_blown,
        unlit=np.all(local_means_dn(frame) < floors, axis=0),
        floors_known=all(plane.floor_dn is not None for plane in frame.planes),
        weight=frame.mosaic.tile_area,
    )


@lru_cache(maxsize=1)  # of a frame that is judged, each channel asks, and the maps of them all
def local_means_dn(frame: SettledFrame) -> F32:
    """Return the mean signal of each plane by which tiles are held against the noise floor.

    A pixel at the floor has noise as large as its signal, so the mean of n pixels is off there
    by floor / sqrt(n). Where that is too much, as on sensors of a few megapixels, so many rings
    of tiles around are joined as it takes: of how far a tile lies from their mean only that
    share is kept by which they differ beyond noise (the least squares of local mean and
    variance), so edges, small dark places and texture stay. Elsewhere means are the tiles' own,
    and so they are in rows that are bright all round, of which nothing is asked.

    Returns
    -------
    array of float32, shape (planes, rows, cols)
        Sensor orientation.
    """
    mosaic, means, area = frame.mosaic, frame.maps.mean_dn.copy(), frame.mosaic.tile_area
    tile_share = frame.maps.tile_px**2 / (mosaic.height * mosaic.width)
    for plane, own in zip(frame.planes, means, strict=True):
        error_floors = 1.0 / math.sqrt(max(1.0, plane.measured.pixels * tile_share))
        rings = math.ceil((error_floors / MEAN_ERROR - 1.0) / 2.0)
        if rings <= 0 or plane.least_dn <= 0:
            continue
        # blocked is what lies under twice the floor at the most, and where a hundredth of the
        # pixels lies under four, as asked of the dark end, noise lets their tiles reach twelve
        dark = np.flatnonzero((own < 16.0 * plane.least_dn).any(axis=1))
        if not len(dark):
            continue
        # the rows that dark ones tell in, and about these the rows that their means are made of
        top, end = int(dark[0]) - rings, int(dark[-1]) + 1 + rings
        told = slice(max(0, top), end)
        made_of = slice(max(0, top - rings), end + rings)
        tile_dn, tile_area = own[made_of].astype(np.float64), area[made_of]
        inner = slice(told.start - made_of.start, told.stop - made_of.start)
        weight, first, second = (
            _joined(tiles, rings)[inner]
            for tiles in (tile_area, tile_area * tile_dn, tile_area * tile_dn**2)
        )
        joined_dn, tile_dn = first / weight, tile_dn[inner]
        noise_dn2, spread_dn2 = (error_floors * plane.least_dn) ** 2, second / weight - joined_dn**2
        kept = 1.0 - noise_dn2 / np.maximum(spread_dn2, noise_dn2)
        own[told] = joined_dn + kept * (tile_dn - joined_dn)
    return means


def _joined(tiles: F64, rings: int) -> F64:
    """Add to each tile those of so many rings around it; beyond the border there is nothing."""
    (rows, cols), side = tiles.shape, range(1, 2 * rings + 1)
    wide = np.zeros((rows + 2 * rings, cols + 2 * rings))
    wide[rings:-rings, rings:-rings] = tiles
    tall = wide[:rows].copy()
    for row in side:
        tall += wide[row : row + rows]
    joined: F64 = tall[:, :cols].copy()
    for col in side:
        joined += tall[:, col : col + cols]
    return joined


def cut_tiles(frame: SettledFrame) -> Bool:
    """Tell where any light of a plane was cut, so that a tile's mean says too little.

    Lone hot pixels are no light: a dark tile in which hardly any pixel clips holds those.

    Returns
    -------
    array of bool, shape (planes, rows, cols)
        Sensor orientation.
    """
    maps = frame.maps
    blown_from = np.array([p.level.blown_from_dn for p in frame.planes])[:, None, None]
    spans = np.array([plane.span_dn for plane in frame.planes])[:, None, None]
    cut: Bool = maps.max_dn >= np.clip(np.ceil(blown_from), 0, 1 << 16).astype(np.int32)
    if cut.any():
        cut &= ~((maps.over_share < HOT_SHARE) & (maps.mean_dn < HOT_TONE * spans))
    return cut


def _blown_shares(frame: SettledFrame) -> tuple[F32, F32, F32]:
    """Return the share of each tile in which each plane, any plane and every plane is blown.

    As counted, wherever that was done at the settled level or comes to the same; what is wanting
    is estimated plane by plane.
    """
    maps, area = frame.maps, frame.mosaic.tile_area
    counted = []  # whether counting at the plane's cut and at the settled level comes to the same
    by_plane = []
    for plane, max_dn, over in zip(frame.planes, maps.max_dn, maps.over_share, strict=True):
        at_cut = plane.measured.histogram.at_or_above(plane.measured.clip_threshold_dn)
        pixels = plane.blown_pixels
        counted.append(abs(at_cut - pixels) <= SAME_COUNT_SHARE * max(at_cut, pixels))
        if counted[-1]:
            by_plane.append(over)
            continue
        # the plane's exact count is shared out over the tiles that reach the level
        touched = max_dn >= plane.level.blown_from_dn
        blown = pixels / max(1, plane.measured.pixels)
        reached = float(area[touched].sum())
        share = min(1.0, blown / reached) if reached else 0.0
        by_plane.append(np.where(touched, share, 0.0).astype(np.float32))
    shares = np.stack(by_plane)
    if all(counted):
        return shares, maps.any_over_share, maps.all_over_share
    any_blown = shares.max(axis=0)
    if all(
        here or plane.measured.clip_threshold_dn >= plane.level.blown_from_dn
        for here, plane in zip(counted, frame.planes, strict=True)
    ):
        # nothing was counted that is not blown: together the planes cover at least so much
        any_blown = np.maximum(any_blown, maps.any_over_share)
    return shares, any_blown, shares.min(axis=0)


def thirds(share: F32 | Bool, weight: F64) -> tuple[float, float, float]:
    """Return the share within the upper, middle and lower third of the upright frame."""
    bands = np.array_split(np.arange(share.shape[0]), 3)
    upper, middle, lower = (
        float((share[band] * weight[band]).sum() / max(weight[band].sum(), 1e-12)) for band in bands
    )
    return upper, middle, lower


def patch_of(share: F32 | Bool, weight: F64) -> Patch | None:
    """Return the largest connected patch of an upright map; None where there is none."""
    found = largest_patch(share, WHOLLY, weight)
    if found is None:
        return None
    across = ("left", "middle", "right")[min(2, int(found.centre[0] * 3))]
    down = ("upper", "middle", "lower")[min(2, int(found.centre[1] * 3))]
    words = f"in the {down} third, {across}"
    if across == down == "middle":
        words = "in the middle"
    return Patch(found.share, found.centre, found.box, words)
