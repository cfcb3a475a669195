"""The large pictures of one frame: the whole, its largest blown patch, its sharpest place."""

from __future__ import annotations

from dataclasses import dataclass

from PIL import Image
from PIL.Image import Resampling, Transpose

from auditor.model.arrays import F32, U8
from auditor.model.large import MOST_BYTES, LargePicture, PictureKind, PicturePlace
from auditor.model.mosaic import Mosaic
from auditor.model.orientation import Box, turns_of, upright_box
from auditor.pictures.crops import blown_window, render_window, sharp_window
from auditor.pictures.encode import jpeg_within
from auditor.pictures.render import Rendering
from auditor.pictures.shrink import LEAST_CELL_PX, cell_side_px, shrink

LONGEST_PX = 2048
SLACK = 1.02
"""A picture this little longer loses a row here and there; to filter it anew would only blur it,
and cost as much as all the rest."""

CROP_BYTES = 50_000
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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DrawnPictures:
    """The large pictures of a frame as it lies on the sensor: nothing of its pixels is kept.

    Parameters
    ----------
    channels : list of three arrays of uint8, shape (rows, cols)
        Red, green and blue of the whole; empty for a frame of a pixel or two.
    size : (width, height)
        In which cells have their true shape.
    filtered : bool
        Whether the whole is to be filtered where it is made smaller.
    crops : list of (PictureKind, Box, array of uint8)
    """

    channels: list[U8]
    size: tuple[int, int]
    filtered: bool
    crops: list[tuple[PictureKind, Box, U8]]

    def encoded(self, orientation: int | None) -> tuple[LargePicture, ...]:
        """Turn the pictures upright and encode them.

        Returns
        -------
        tuple of LargePicture
            The whole first, at most :data:`LONGEST_PX` on its longer side; then the crops there
            are. All together take at most :data:`MOST_BYTES`. None of a frame of a pixel or two.
        """
        if not self.channels:
            return ()
        crops = [
            _encoded(Image.fromarray(rgb), kind, box, CROP_BYTES, orientation)
            for kind, box, rgb in self.crops
        ]
        image = Image.merge("RGB", [Image.fromarray(channel) for channel in self.channels])
        if self.size != image.size:
            image = image.resize(
                self.size, Resampling.BILINEAR if self.filtered else Resampling.NEAREST
            )
        left = MOST_BYTES - sum(len(crop.jpeg) for crop in crops)
        return _encoded(image, PictureKind.WHOLE, WHOLE, left, orientation), *crops


def draw_large(view: LargeView) -> DrawnPictures:
    """Draw the whole frame small, and its telling places at the sensor's own pixels."""
    mosaic = view.mosaic
    if min(mosaic.width, mosaic.height) < LEAST_CELL_PX[mosaic.layout]:
        return DrawnPictures(channels=[], size=(0, 0), filtered=False, crops=[])
    cell_px = cell_side_px(mosaic.layout, max(mosaic.width, mosaic.height), LONGEST_PX)
    height, width = mosaic.height, mosaic.width
    crops: list[tuple[PictureKind, Box, U8]] = []
    tiles = view.tile_px, height, width
    sharp = sharp_window(view.detail, view.any_over, *tiles) if view.textured else None
    windows = {
        PictureKind.BLOWN: blown_window(view.any_over, *tiles),
        PictureKind.SHARP: sharp,
    }
    for kind, window in windows.items():
        if window is not None:
            top, left, bottom, right = window
            box = (left / width, top / height, right / width, bottom / height)
            crops.append((kind, box, render_window(window, view.rendering)))
    # the whole last: it is kept, and what the crops take meanwhile would lie beside it
    channels = shrink(view.rendering, cell_px, view.top_dn)
    near = max(channels[0].shape) <= SLACK * LONGEST_PX and mosaic.pixel_aspect == 1.0
    # cells are drawn in their true shape
    rows, cols = channels[0].shape
    tall, wide = rows / min(1.0, mosaic.pixel_aspect), cols * max(1.0, mosaic.pixel_aspect)
    scale = min(1.0, LONGEST_PX / max(tall, wide))
    return DrawnPictures(
        channels=channels,
        size=(max(1, round(scale * wide)), max(1, round(scale * tall))),
        filtered=not near,
        crops=crops,
    )


def _encoded(
    lying: Image.Image, kind: PictureKind, box: Box, most_bytes: int, orientation: int | None
) -> LargePicture:
    # four times as fast as turning arrays
    quarters, mirrored = turns_of(orientation)
    image = lying.transpose(QUARTERS[quarters - 1]) if quarters else lying
    image = image.transpose(Transpose.FLIP_LEFT_RIGHT) if mirrored else image
    box = upright_box(box, orientation)
    place = PicturePlace(
        kind=kind, width_px=image.width, height_px=image.height,
        left=box[0], top=box[1], width=box[2] - box[0], height=box[3] - box[1],
    )  # fmt: skip
    return LargePicture(place, jpeg_within(image, most_bytes))
