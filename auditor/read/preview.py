"""The camera's own preview: decoded no larger than wanted, in the sensor's orientation."""

from __future__ import annotations

import io
import warnings

import numpy as np
from PIL import Image

from auditor.model.arrays import U8, U16
from auditor.model.mosaic import CameraPreview
from auditor.model.orientation import upright
from auditor.model.remark import RemarkCode
from auditor.read.jpeg import grown_scan, scan_is_broken, with_filling

_BACK = {5: 5, 6: 8, 7: 7, 8: 6}
"""The orientation that undoes another; the turns by a quarter only."""


class NoPreview(Exception):
    """There is no preview, or none that can be read; the code says why."""

    def __init__(self, code: RemarkCode) -> None:
        super().__init__(code)
        self.code = code


def jpeg_preview(content: bytes, longest_px: int) -> CameraPreview:
    """Decode a JPEG at no more than the size wanted.

    Parameters
    ----------
    longest_px : int
        Longest side of the result; a smaller picture stays as it is.

    Raises
    ------
    NoPreview
        It is cut off, damaged, or too large to be a preview.
    """
    grown = grown_scan(content)
    try:
        with warnings.catch_warnings():
            # large previews are meant; only what is beyond all reason is refused
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            if grown is None:
                small, size, _ = _drafted(content, None, longest_px)
                return CameraPreview(_fitted(small, longest_px), *size, scan_is_broken(content))
            small, size, scale = _drafted(grown.content, grown.height, longest_px)
            whole = (0, 0, small.width, -(-grown.height // scale))
            # the last rows alone, and no copy of the rest: all lies beside the file's own bytes
            ends = np.asarray(small.crop((0, grown.ends_from(scale), *small.size)))
            broken = scan_is_broken(content) or grown.goes_on(ends, scale)
            if not broken and grown.may_end_early(ends, scale):
                filled, *_ = _drafted(with_filling(grown.content), grown.height, longest_px)
                broken = filled.crop(whole) != small.crop(whole)
            return CameraPreview(_fitted(small, longest_px, whole), *size, broken)
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError) as error:
        raise NoPreview(RemarkCode.PREVIEW_DAMAGED) from error


def _drafted(
    content: bytes, height: int | None, longest_px: int
) -> tuple[Image.Image, tuple[int, int], int]:
    """Decode a JPEG no smaller than wanted; return its own size and what stands for one pixel."""
    with Image.open(io.BytesIO(content), formats=("JPEG",)) as picture:
        size = picture.width, height or picture.height
        # the decoder makes the picture smaller while reading: much faster for large ones
        picture.draft("RGB", _fitting(size, longest_px))
        scale = next(step for step in (8, 4, 2, 1) if -(-size[0] // step) == picture.width)
        small = picture if picture.mode == "RGB" else picture.convert("RGB")
        small.load()
        return small, size, scale


def bitmap_preview(content: U8 | U16, longest_px: int) -> CameraPreview:
    """Make an uncompressed preview of shape (h, w, 1 or 3) no larger than wanted; a copy."""
    eight_bit = content >> 8 if content.dtype == np.uint16 else content
    # two layers are what a damaged header makes of three: no picture to measure
    if eight_bit.ndim != 3 or eight_bit.size == 0 or eight_bit.shape[2] == 2:
        raise NoPreview(RemarkCode.PREVIEW_DAMAGED)
    grey = eight_bit.shape[2] == 1
    rgb = np.repeat(eight_bit[:, :, :1], 3, axis=2) if grey else eight_bit[:, :, :3]
    picture = Image.fromarray(np.ascontiguousarray(rgb, dtype=np.uint8))
    return CameraPreview(_fitted(picture, longest_px), *picture.size)


def _fitted(
    picture: Image.Image, longest_px: int, part: tuple[int, int, int, int] | None = None
) -> U8:
    own = picture.size if part is None else part[2:]
    size = _fitting(own, longest_px)
    if size != own:
        return np.array(picture.resize(size, Image.Resampling.BOX, part))
    return np.array(picture if part is None else picture.crop(part))


def _fitting(size: tuple[int, int], longest_px: int) -> tuple[int, int]:
    scale = min(1.0, longest_px / max(size))
    return max(1, round(size[0] * scale)), max(1, round(size[1] * scale))


def as_on_sensor(preview: CameraPreview, landscape: bool, orientation: int | None) -> CameraPreview:
    """Turn a preview that was stored upright back to the sensor's orientation.

    Previews lie as the sensor does, but for some bodies. One that lies across the sensor while
    the file asks for a quarter turn was turned already.
    """
    back = _BACK.get(orientation or 1)
    if back is None or (preview.width >= preview.height) == landscape:
        return preview
    turned = np.ascontiguousarray(upright(preview.pixels, back))
    return CameraPreview(turned, preview.height, preview.width, preview.broken)
