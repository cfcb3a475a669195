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
BEST_QUALITY, LEAST_QUALITY, QUALITY_STEP = 80, 14, 2
"""Of JPEG, for pictures that must not be larger than something."""

BAND_PX = 16
"""Rows that are encoded together: what is left out between them changes nothing in them."""

MOST_BANDS = 8
"""Of so many bands one tells of the others."""

WHOLE_PIXELS = 250_000
"""A picture of no more is looked at whole."""

SHRINKS = 0.6
"""The bytes of a JPEG fall with about this power of the steps of its tables, which its quality
stands for: ``(200 - 2 q) %`` of usual ones from 50 on, ``5000 / q %`` below."""

GUESSES = 3
"""So often a quality is tried that is expected to be right; then those left are halved."""

ROOM = 0.95
"""Aimed at: the bands tell the size to a few hundredths."""


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
    if pixel_aspect != 1.0:  # the shorter side of each pixel is lengthened
        height, width = rgb.shape[:2]
        size = round(width * max(1.0, pixel_aspect)), round(height / min(1.0, pixel_aspect))
        rgb = np.asarray(Image.fromarray(rgb).resize(size, Image.Resampling.BILINEAR))
    thumb = _small(rgb, orientation)
    shown = None if preview is None else _encoded(_small(preview, orientation), QUALITY)
    return Pictures(_encoded(thumb, QUALITY), shown, thumb.width, thumb.height)


def _small(picture: U8, orientation: int | None) -> Image.Image:
    image = Image.fromarray(np.ascontiguousarray(upright(picture, orientation)))
    longest = max(image.size)
    if longest <= LONGEST_PX * SLACK:
        return image
    size = (max(1, round(side * LONGEST_PX / longest)) for side in image.size)
    return image.resize((next(size), next(size)), Image.Resampling.BOX, reducing_gap=2.0)


def jpeg_within(image: Image.Image, most_bytes: int, *, as_kept: int | None = None) -> bytes:
    """Return a JPEG of at most so many bytes, else the one of the least quality.

    Some bands of the picture tell the best quality that is small enough, so that it is encoded
    once; where they were mistaken, again with less.

    Parameters
    ----------
    as_kept : int, optional
        The bytes that it takes at :data:`QUALITY`, which tell where to look first.
    """
    bands, every = image, min(MOST_BANDS, image.width * image.height // WHOLE_PIXELS)
    if every >= 2:
        tops = range(0, image.height, every * BAND_PX)
        bands = Image.new(image.mode, (image.width, len(tops) * BAND_PX))
        for place, top in enumerate(tops):
            band = image.crop((0, top, image.width, min(top + BAND_PX, image.height)))
            bands.paste(band, (0, place * BAND_PX))
    share = bands.height / image.height
    aim = max(1.0, most_bytes if bands is image else ROOM * most_bytes * share)
    qualities = range(LEAST_QUALITY, BEST_QUALITY + 1, QUALITY_STEP)
    small, large, fitting = -1, len(qualities), b""
    place, guesses = large - 1, GUESSES
    if as_kept is not None:
        place = _expected(QUALITY, as_kept / aim)
    while large - small > 1:  # one that is small enough stands right under one that is not
        place = min(max(place, small + 1), large - 1) if guesses > 0 else (small + large) // 2
        guesses -= 1
        tried = _encoded(bands, qualities[place])
        fits = len(tried) <= aim
        fitting = tried if fits or place == 0 else fitting
        small, large = (place, large) if fits else (small, place)
        place = _expected(qualities[place], len(tried) / aim)
    if bands is image:
        return fitting
    quality = qualities[max(0, small)]
    while len(jpeg := _encoded(image, quality)) > most_bytes and quality > LEAST_QUALITY:
        quality = max(LEAST_QUALITY, quality * 7 // 8)
    return jpeg


def _expected(quality: int, times_too_large: float) -> int:
    """Tell at which of the qualities a picture is expected to be as small as it shall be."""
    step = (200.0 - 2.0 * quality if quality >= 50 else 5000.0 / quality) * times_too_large ** (
        1.0 / SHRINKS
    )
    wanted = 5000.0 / step if step > 100.0 else 100.0 - step / 2.0
    return int(wanted - LEAST_QUALITY) // QUALITY_STEP


def _encoded(image: Image.Image, quality: int) -> bytes:
    stream = io.BytesIO()
    image.save(stream, "JPEG", quality=quality)
    return stream.getvalue()
