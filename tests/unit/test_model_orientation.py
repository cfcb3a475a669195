"""Turning upright agrees with Pillow's own reading of Exif orientation (reference library)."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image, ImageOps

from auditor.model.orientation import upright


@pytest.mark.parametrize("orientation", range(1, 9))
def test_turns_agree_with_pillow(orientation: int) -> None:
    picture = np.arange(6, dtype=np.uint8).reshape(2, 3)
    image = Image.fromarray(picture)
    exif = image.getexif()
    exif[0x112] = orientation
    stream = io.BytesIO()
    image.save(stream, "PNG", exif=exif)
    expected = np.asarray(ImageOps.exif_transpose(Image.open(stream)))
    assert np.array_equal(upright(picture, orientation), expected)


def test_an_unknown_orientation_changes_nothing() -> None:
    picture = np.arange(6).reshape(2, 3)
    assert np.array_equal(upright(picture, None), picture)
    assert np.array_equal(upright(picture, 99), picture)


def test_planes_are_turned_together() -> None:
    planes = np.arange(12).reshape(2, 2, 3)
    assert np.array_equal(upright(planes, 6, rows_axis=1)[1], upright(planes[1], 6))
