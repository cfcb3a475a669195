"""The pictures of one frame, fetched one frame at a time, with maps of what is lost where."""

from __future__ import annotations

import io
import math
from dataclasses import dataclass
from functools import reduce

import numpy as np
from PIL import Image

from auditor.clipping.limits import WHOLLY
from auditor.clipping.maps import ClipMaps, clip_maps
from auditor.model.arrays import Bool
from auditor.model.audit import FrameResult
from auditor.model.codes import FrameStatus
from auditor.model.settled import as_judged
from auditor.model.shoot import MeasurementSource
from auditor.pictures.encode import jpeg_within


@dataclass(frozen=True, slots=True, eq=False)
class LostMaps:
    """What is drawn as lost: tiles lost in some plane, tiles with single specks, blocked tiles.

    Upright, of one shape; ``blocked`` is None where a noise floor is unknown.
    """

    areas: Bool
    specks: Bool
    blocked: Bool | None


@dataclass(frozen=True, slots=True, eq=False)
class LostIn:
    """Tiles lost in some colour, tiles with single specks, and the mean share of one of these."""

    areas: Bool
    specks: Bool
    speck_share: float


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
    maps : ClipMaps
        As the frame was judged.
    colours : tuple of str
        Of each plane of the maps: "R", "G", "B" or "L".
    sensor : (int, int)
        Width and height of the upright frame in the sensor's pixels.
    tone_offset_stops : dict of str to float
        Stops below saturation of a colour that the plain rendering shows as white, by colour; to
        be added to what its code says.
    """

    thumb: bytes
    preview: bytes | None
    width: int
    height: int
    maps: ClipMaps
    colours: tuple[str, ...]
    sensor: tuple[int, int]
    tone_offset_stops: dict[str, float]

    def lost_in(self, colour: str | None = None) -> LostIn:
        """Return what is lost in one colour; without one, in any."""
        planes = zip(self.colours, self.maps.planes, strict=True)
        shares = reduce(np.maximum, (own for c, own in planes if colour in (None, c)))
        if colour is None:
            areas, specks = self.maps.lost, self.maps.specks
        else:
            areas = shares >= WHOLLY
            specks = (shares > 0) & ~areas
        points = shares[specks]
        return LostIn(areas, specks, float(points.mean()) if points.size else 0.0)

    @property
    def lost(self) -> LostMaps:
        """What is drawn as lost, over all planes."""
        return LostMaps(self.maps.lost, self.maps.specks, self.maps.blocked)


def frame_pictures(frame: FrameResult, measurements: MeasurementSource) -> FramePictures | None:
    """Fetch the pictures of one frame; None for a frame that was not measured."""
    if frame.status != FrameStatus.MEASURED:
        return None
    try:
        measured = measurements.measurement(frame.id)
    except KeyError:
        return None
    settled, pictures = as_judged(frame, measured), measured.pictures
    maps, (tall, wide) = clip_maps(settled), settled.upright_size
    return FramePictures(
        thumb=pictures.thumb,
        preview=pictures.preview,
        width=pictures.width or maps.lost.shape[1],
        height=pictures.height or maps.lost.shape[0],
        maps=maps,
        colours=tuple(plane.name[0] for plane in settled.planes),
        sensor=(wide, tall),
        tone_offset_stops=tone_offsets(frame),
    )


def tone_offsets(frame: FrameResult) -> dict[str, float]:
    """Return how many stops under its saturation a colour is where the rendering turns white.

    The rendering multiplies by the white balance and is white where the first colour clips
    (:func:`auditor.pictures.render.render_cells`), so a colour with a larger multiplier is white
    before it is blown.
    """
    spans: dict[str, float] = {}
    for channel in frame.channels:
        colour, span_dn = channel.name[0], max(1.0, channel.saturation_dn - channel.black_dn)
        spans[colour] = min(span_dn, spans.get(colour, span_dn))
    scaled = {c: frame.white_balance.get(c, 1.0) * dn for c, dn in spans.items()}
    white = min(scaled.values(), default=1.0)
    return {colour: math.log2(value / white) for colour, value in scaled.items()}


def fitted(jpeg: bytes, most_bytes: int) -> bytes:
    """Return a JPEG of at most so many bytes: as it is, else packed more and more.

    Where even the last quality is too large, that one is returned.
    """
    if len(jpeg) <= most_bytes:
        return jpeg
    with Image.open(io.BytesIO(jpeg)) as stored:
        return jpeg_within(stored.convert("RGB"), most_bytes, as_kept=len(jpeg))
