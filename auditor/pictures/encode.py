"""Small upright pictures as JPEG bytes."""

from __future__ import annotations

import io

import numpy as np
from PIL import Image

from auditor.model.arrays import U8
from auditor.model.measurement import Pictures
from auditor.model.orientation import upright

LONGEST_PX = 360
SLACK = 1.1
"""A picture this little longer is left as it is: scaling would only blur it."""

QUALITY = 82
QUALITIES = (80, 68, 54, 40, 26, 14)
"""Of JPEG, tried in turn until a picture is small enough."""


def encode_pictures(
    rgb: U8, preview: U8 | None, orientation: int | None, pixel_aspect: float = 1.0
) -> Pictures:
    """Encode the thumb of the raw data and the camera's preview.

    Parameters
    ----------
    rgb, preview : array of uint8, shape (rows, cols, 3)
        Both as they lie on the sensor.
    orientation : int or None
        Exif orientation, 1 to 8.
    pixel_aspect : float
        Width of a pixel of the raw data over its height; the picture is drawn in its true shape.

    Returns
    -------
    Pictures
        Upright; its width and height are those of the thumb.
    """
    thumb = _small(_squared(rgb, pixel_aspect), orientation)
    shown = None if preview is None else _jpeg(_small(preview, orientation))
    return Pictures(_jpeg(thumb), shown, thumb.width, thumb.height)


def _squared(rgb: U8, pixel_aspect: float) -> U8:
    """Lengthen the shorter side of each pixel."""
    if pixel_aspect == 1.0:
        return rgb
    height, width = rgb.shape[:2]
    size = round(width * max(1.0, pixel_aspect)), round(height / min(1.0, pixel_aspect))
    return np.asarray(Image.fromarray(rgb).resize(size, Image.Resampling.BILINEAR))


def _small(picture: U8, orientation: int | None) -> Image.Image:
    image = Image.fromarray(np.ascontiguousarray(upright(picture, orientation)))
    longest = max(image.size)
    if longest <= LONGEST_PX * SLACK:
        return image
    size = (max(1, round(side * LONGEST_PX / longest)) for side in image.size)
    return image.resize((next(size), next(size)), Image.Resampling.BOX, reducing_gap=2.0)


def _jpeg(image: Image.Image) -> bytes:
    stream = io.BytesIO()
    image.save(stream, "JPEG", quality=QUALITY)
    return stream.getvalue()


def jpeg_within(image: Image.Image, most_bytes: int) -> bytes:
    """Return a JPEG of at most so many bytes, else the one of the last quality."""
    for quality in QUALITIES:
        stream = io.BytesIO()
        image.save(stream, "JPEG", quality=quality)
        if stream.tell() <= most_bytes:
            break
    return stream.getvalue()
