"""Where in the picture: maps of blown and blocked tiles, thirds, largest patches. All upright."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from auditor.clipping.patches import largest_patch
from auditor.model.arrays import F32, F64, Bool
from auditor.model.audit import Patch
from auditor.model.measurement import Level, MosaicMeasurement, PlaneMeasurement, TileMaps
from auditor.model.orientation import upright

SAME_COUNT_SHARE = 0.02
"""Maps counted at one level serve another one when the plane's counts agree this well."""

WHOLLY = 0.5
"""A tile is of the core of a patch when at least this share of it is blown."""


@dataclass(frozen=True, slots=True, eq=False)
class ClipMaps:
    """Shares a tile, upright, with the share of the frame that each tile covers.

    Parameters
    ----------
    any_blown, all_blown : array of float32, shape (rows, cols)
        Share of the tile in which any plane, and every plane, is blown.
    blocked : array of bool, or None
        Where every plane lies under its floor; None where a floor is unknown.
    weight : array of float64
        Share of the frame; sums to 1.
    """

    any_blown: F32
    all_blown: F32
    blocked: Bool | None
    weight: F64

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


def tile_weight(maps: TileMaps, width: int, height: int) -> F64:
    """Return the share of the frame each tile covers, (rows, cols), sensor orientation."""
    rows, cols = maps.shape
    tall = np.clip(height - np.arange(rows) * maps.tile_px, 0, maps.tile_px)
    wide = np.clip(width - np.arange(cols) * maps.tile_px, 0, maps.tile_px)
    area: F64 = np.outer(tall, wide).astype(np.float64)
    area /= area.sum()
    return area


def clip_maps(
    mosaic: MosaicMeasurement, levels: Sequence[Level], orientation: int | None
) -> ClipMaps:
    """Make the maps of one frame for its settled saturation."""
    maps = mosaic.maps
    weight = tile_weight(maps, mosaic.width, mosaic.height)
    any_blown, all_blown = _blown_shares(mosaic, levels, weight)
    return ClipMaps(
        any_blown=upright(any_blown, orientation),
        all_blown=upright(all_blown, orientation),
        blocked=_blocked(mosaic, orientation),
        weight=upright(weight, orientation),
    )


def _blown_shares(
    mosaic: MosaicMeasurement, levels: Sequence[Level], weight: F64
) -> tuple[F32, F32]:
    """Return the shares of each tile in which any plane, and every plane, is blown.

    As counted, wherever that was done at the settled level or comes to the same; what is wanting
    is estimated plane by plane.
    """
    maps, planes = mosaic.maps, list(zip(mosaic.planes, levels, strict=True))
    counted = [_counted_there(plane, level) for plane, level in planes]
    if all(counted):
        return maps.any_over_share, maps.all_over_share
    shares = np.stack(
        [
            maps.over_share[index]
            if counted[index]
            else _estimated_share(plane, level, maps.max_dn[index], weight)
            for index, (plane, level) in enumerate(planes)
        ]
    )
    any_blown = shares.max(axis=0)
    if all(
        here or plane.cut_dn >= level.blown_from_dn
        for here, (plane, level) in zip(counted, planes, strict=True)
    ):
        # nothing was counted that is not blown: together the planes cover at least so much
        any_blown = np.maximum(any_blown, maps.any_over_share)
    return any_blown, shares.min(axis=0)


def _counted_there(plane: PlaneMeasurement, level: Level) -> bool:
    """Whether counting at the plane's cut and at the settled level comes to the same."""
    at_cut = plane.histogram.at_or_above(plane.cut_dn)
    at_level = plane.histogram.at_or_above(level.blown_from_dn)
    return abs(at_cut - at_level) <= SAME_COUNT_SHARE * max(at_cut, at_level)


def _estimated_share(plane: PlaneMeasurement, level: Level, max_dn: np.ndarray, weight: F64) -> F32:
    """Share the plane's exact count out over the tiles that reach the level."""
    touched = max_dn >= level.blown_from_dn
    area = float(weight[touched].sum())
    if area == 0.0:
        return np.zeros(max_dn.shape, np.float32)
    blown = plane.histogram.at_or_above(level.blown_from_dn) / max(1, plane.pixels)
    return np.where(touched, min(1.0, blown / area), 0.0).astype(np.float32)


def _blocked(mosaic: MosaicMeasurement, orientation: int | None) -> Bool | None:
    floors = [plane.noise.floor_dn for plane in mosaic.planes]
    if any(floor is None for floor in floors):
        return None
    limits = np.array(floors, dtype=np.float32)[:, None, None]
    blocked: Bool = np.all(mosaic.maps.mean_dn < limits, axis=0)
    return upright(blocked, orientation)


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
    return Patch(found.share, found.centre, found.box, _words(found.centre))


def _words(centre: tuple[float, float]) -> str:
    across = ("left", "middle", "right")[min(2, int(centre[0] * 3))]
    down = ("upper", "middle", "lower")[min(2, int(centre[1] * 3))]
    if across == down == "middle":
        return "in the middle"
    return f"in the {down} third, {across}"
