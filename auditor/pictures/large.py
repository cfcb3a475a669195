"""The large pictures of one frame: the whole, its largest blown patch, its sharpest place."""

from __future__ import annotations

import io
from collections.abc import Iterator
from dataclasses import dataclass

from PIL import Image
from PIL.Image import Resampling, Transpose

from auditor.model.arrays import F32
from auditor.model.large import MOST_BYTES, LargePicture, PictureKind, PicturePlace
from auditor.model.mosaic import Mosaic
from auditor.model.orientation import Box, turns_of, upright_box
from auditor.pictures.crops import Window, blown_window, render_window, sharp_window
from auditor.pictures.render import Rendering
from auditor.pictures.shrink import LEAST_CELL_PX, cell_side_px, shrink

LONGEST_PX = 2048
SLACK = 1.02
"""A picture this little longer loses a row here and there; to filter it anew would only blur it,
and cost as much as all the rest."""

CROP_BYTES = 50_000
QUALITIES = (80, 68, 54, 40, 26, 14)
"""Of JPEG, tried in turn until a picture is small enough."""

QUARTERS = (Transpose.ROTATE_90, Transpose.ROTATE_180, Transpose.ROTATE_270)
WHOLE: Box = (0.0, 0.0, 1.0, 1.0)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LargeView:
    """What large pictures are made from.

    Parameters
    ----------
    top_dn : int
        No pixel is above it.
    tile_px : int
    any_over, detail : array of float32, shape (rows, cols)
        Share of each tile in which any plane is over, and its fine detail.
    textured : bool
        Whether there is any detail.
    """

    mosaic: Mosaic
    rendering: Rendering
    top_dn: int
    tile_px: int
    any_over: F32
    detail: F32
    textured: bool


def large_pictures(view: LargeView, orientation: int | None) -> tuple[LargePicture, ...]:
    """Draw the large pictures of a frame, upright.

    Returns
    -------
    tuple of LargePicture
        The whole first, at most :data:`LONGEST_PX` on its longer side; then the crops there are.
        All together take at most :data:`MOST_BYTES`. None of a frame of a pixel or two.
    """
    if min(view.mosaic.width, view.mosaic.height) < LEAST_CELL_PX[view.mosaic.layout]:
        return ()
    crops = [_crop(kind, window, view, orientation) for kind, window in _windows(view)]
    left = MOST_BYTES - sum(len(crop.jpeg) for crop in crops)
    return _whole(view, orientation, left), *crops


def _windows(view: LargeView) -> Iterator[tuple[PictureKind, Window]]:
    size = view.tile_px, view.mosaic.height, view.mosaic.width
    blown = blown_window(view.any_over, *size)
    if blown is not None:
        yield PictureKind.BLOWN, blown
    sharp = sharp_window(view.detail, view.any_over, *size) if view.textured else None
    if sharp is not None:
        yield PictureKind.SHARP, sharp


def _whole(view: LargeView, orientation: int | None, most_bytes: int) -> LargePicture:
    mosaic = view.mosaic
    cell_px = cell_side_px(mosaic.layout, max(mosaic.width, mosaic.height), LONGEST_PX)
    channels = shrink(view.rendering, cell_px, view.top_dn)
    image = Image.merge("RGB", [Image.fromarray(channel) for channel in channels])
    size = _size(channels[0].shape, mosaic.pixel_aspect)
    if size != image.size:
        near = max(image.size) <= SLACK * LONGEST_PX and mosaic.pixel_aspect == 1.0
        image = image.resize(size, Resampling.NEAREST if near else Resampling.BILINEAR)
    return _encoded(_upright(image, orientation), PictureKind.WHOLE, WHOLE, most_bytes)


def _size(shape: tuple[int, ...], pixel_aspect: float) -> tuple[int, int]:
    """Return the width and height in which cells are drawn in their true shape."""
    height, width = shape[0] / min(1.0, pixel_aspect), shape[1] * max(1.0, pixel_aspect)
    scale = min(1.0, LONGEST_PX / max(height, width))
    return max(1, round(scale * width)), max(1, round(scale * height))


def _crop(
    kind: PictureKind, window: Window, view: LargeView, orientation: int | None
) -> LargePicture:
    mosaic, (top, left, bottom, right) = view.mosaic, window
    rgb = render_window(window, view.rendering)
    across, down = mosaic.width, mosaic.height
    box = upright_box((left / across, top / down, right / across, bottom / down), orientation)
    return _encoded(_upright(Image.fromarray(rgb), orientation), kind, box, CROP_BYTES)


def _upright(image: Image.Image, orientation: int | None) -> Image.Image:
    """Turn a picture upright: four times as fast as :func:`auditor.model.orientation.upright`."""
    quarters, mirrored = turns_of(orientation)
    turned = image.transpose(QUARTERS[quarters - 1]) if quarters else image
    return turned.transpose(Transpose.FLIP_LEFT_RIGHT) if mirrored else turned


def _encoded(image: Image.Image, kind: PictureKind, box: Box, most_bytes: int) -> LargePicture:
    for quality in QUALITIES:
        stream = io.BytesIO()
        image.save(stream, "JPEG", quality=quality)
        if stream.tell() <= most_bytes:
            break
    place = PicturePlace(
        kind=kind, width_px=image.width, height_px=image.height,
        left=box[0], top=box[1], width=box[2] - box[0], height=box[3] - box[1],
    )  # fmt: skip
    return LargePicture(place, stream.getvalue())
