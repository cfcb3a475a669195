"""The pictures of one frame, fetched one frame at a time, with maps of what is lost where."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from auditor.model.arrays import F64, Bool
from auditor.model.audit import ChannelFigures, FrameResult
from auditor.model.gallery import Gallery
from auditor.model.measurement import FrameMeasurement, PlaneMeasurement
from auditor.model.orientation import upright

BLOWN_TILE = 0.05
"""A tile is drawn as blown when at least this share of it is: a single glint is not an area."""

MOST_TILES = 96
"""Tiles on the longer side of a drawn map; finer maps are gathered two by two."""

SAME_COUNT_SHARE = 0.02
"""Maps counted at one level serve another when the plane's counts agree this well."""


@dataclass(frozen=True, slots=True, eq=False)
class FramePictures:
    """Upright pictures and maps.

    Parameters
    ----------
    thumb : bytes
        JPEG of the raw data.
    preview : bytes or None
        JPEG of the camera's own preview.
    width, height : int
        Of ``thumb``, pixels.
    blown : array of bool, shape (rows, cols)
        Tiles of which at least :data:`BLOWN_TILE` is blown in some channel.
    blocked : array of bool, shape (rows, cols), or None
        Tiles under every channel's noise floor; None where a floor is unknown.
    """

    thumb: bytes
    preview: bytes | None
    width: int
    height: int
    blown: Bool
    blocked: Bool | None


def frame_pictures(frame: FrameResult, gallery: Gallery) -> FramePictures | None:
    """Fetch the pictures of one frame; None for a frame that was not measured."""
    if frame.status != "measured":
        return None
    try:
        measured = gallery.measurement(frame.id)
    except KeyError:
        return None
    blown = _gathered(_blown_share(frame, measured), frame.orientation) >= BLOWN_TILE
    blocked = _blocked(frame, measured)
    pictures = measured.pictures
    return FramePictures(
        thumb=pictures.thumb,
        preview=pictures.preview,
        width=pictures.width or blown.shape[1],
        height=pictures.height or blown.shape[0],
        blown=blown,
        blocked=None if blocked is None else _gathered(blocked, frame.orientation) >= 0.5,
    )


def _gathered(shares: F64, orientation: int | None) -> F64:
    turned: F64 = upright(shares, orientation)
    while max(turned.shape) > MOST_TILES:
        rows, cols = turned.shape
        padded = np.pad(turned, ((0, rows % 2), (0, cols % 2)), mode="edge")
        turned = (padded[::2, ::2] + padded[1::2, ::2] + padded[::2, 1::2] + padded[1::2, 1::2]) / 4
    return turned


def _blown_share(frame: FrameResult, measured: FrameMeasurement) -> F64:
    """Share a tile where any plane is blown, for the settled saturation.

    The maps were counted at the frame's own clipping level. Where the shoot settled another
    one, the plane's exact share is spread over the tiles that reach it.
    """
    mosaic = measured.mosaic
    by_plane = list(zip(frame.channels, mosaic.planes, strict=True))
    if all(_counted_there(channel, plane) for channel, plane in by_plane):
        return mosaic.maps.any_over_share.astype(np.float64)
    spread = [
        _spread(channel, mosaic.maps.max_dn[index] >= channel.blown_from_dn)
        for index, (channel, _) in enumerate(by_plane)
    ]
    widest: F64 = np.max(np.stack(spread), axis=0)
    return widest


def _counted_there(channel: ChannelFigures, plane: PlaneMeasurement) -> bool:
    at_cut = plane.histogram.at_or_above(plane.cut_dn)
    at_level = plane.histogram.at_or_above(channel.blown_from_dn)
    return abs(at_cut - at_level) <= SAME_COUNT_SHARE * max(at_cut, at_level)


def _spread(channel: ChannelFigures, touched: Bool) -> F64:
    area = float(touched.mean())
    if area == 0.0:
        return np.zeros(touched.shape)
    return np.where(touched, min(1.0, channel.blown_fraction / area), 0.0)


def _blocked(frame: FrameResult, measured: FrameMeasurement) -> F64 | None:
    floors = [channel.noise_floor_dn for channel in frame.channels]
    if not floors or any(floor is None for floor in floors):
        return None
    limits = np.array(floors, dtype=np.float64)[:, None, None]
    blocked: F64 = np.all(measured.mosaic.maps.mean_dn < limits, axis=0).astype(np.float64)
    return blocked
