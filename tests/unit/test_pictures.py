"""Small pictures: a plain rendering, upright JPEG bytes."""

from __future__ import annotations

import io

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from auditor.measures.mosaic import MosaicView
from auditor.model.codes import Layout
from auditor.model.settings import MeasureSettings
from auditor.pictures.encode import encode_pictures
from auditor.pictures.render import render_cells, srgb_curve
from sample_generation.layouts import LAYOUT_NAMES
from tests.built_mosaics import exposed

SETTINGS = MeasureSettings()


def decoded(content: bytes) -> NDArray[np.uint8]:
    with Image.open(io.BytesIO(content)) as image:
        assert image.format == "JPEG"
        return np.asarray(image.convert("RGB"))


def halves(height: int, width: int) -> NDArray[np.uint8]:
    """White above, black below."""
    picture = np.zeros((height, width, 3), dtype=np.uint8)
    picture[: height // 2] = 255
    return picture


def test_srgb_codes_of_known_light() -> None:
    # IEC 61966-2-1: 18 % reflectance is code 118, half the light 188 (also in the standard's C).
    codes = np.rint(255 * srgb_curve(np.array([0.0, 0.001, 0.18, 0.5, 1.0, 2.0])))
    assert codes.tolist() == [0, 3, 118, 188, 255, 255]


def test_a_neutral_is_grey_and_what_is_blown_is_white() -> None:
    balance = {"R": 2.0, "G": 1.0, "B": 1.5}
    grey = np.array([1000.0, 2000.0, 2000.0, 2000.0 / 1.5], dtype=np.float32)
    signals = np.stack([grey, np.full(4, 15000.0, np.float32)], axis=1)[:, None, :]
    picture = render_cells(signals, Layout.BAYER, [15000.0] * 4, balance)
    assert picture.shape == (1, 2, 3)
    assert np.ptp(picture[0, 0]) <= 1
    assert picture[0, 1].tolist() == [255, 255, 255]


@pytest.mark.parametrize("layout", LAYOUT_NAMES)
def test_the_thumb_shows_the_scene_in_the_sensors_orientation(layout: str) -> None:
    taken = exposed(layout, 100.0, 600, 400)
    rgb = MosaicView(taken.mosaic, SETTINGS).rgb
    assert rgb.dtype == np.uint8
    assert rgb.shape[1] / rgb.shape[0] == pytest.approx(1.5, abs=0.03)
    assert max(rgb.shape) <= 384
    sky, land = rgb[: len(rgb) // 2], rgb[len(rgb) // 2 :]
    assert sky.mean() > 2 * land.mean()
    glow = rgb[round(0.35 * len(rgb)), round(0.6 * rgb.shape[1])]
    assert glow.min() >= 250


@pytest.mark.parametrize(
    ("orientation", "size", "white"),
    [(None, (300, 200), "top"), (1, (300, 200), "top"), (3, (300, 200), "bottom"),
     (6, (200, 300), "right"), (8, (200, 300), "left")],
)  # fmt: skip
def test_pictures_are_turned_upright(
    orientation: int | None, size: tuple[int, int], white: str
) -> None:
    pictures = encode_pictures(halves(200, 300), halves(200, 300), orientation)
    assert (pictures.width, pictures.height) == size
    assert pictures.preview is not None
    for content in (pictures.thumb, pictures.preview):
        shown = decoded(content)
        edges = {"top": shown[4], "bottom": shown[-5], "left": shown[:, 4], "right": shown[:, -5]}
        assert edges[white].mean() > 250
        assert sum(edge.mean() > 250 for edge in edges.values()) == 1


def test_large_pictures_come_down_to_360() -> None:
    pictures = encode_pictures(halves(1600, 2400), None, 1)
    assert (pictures.width, pictures.height) == (360, 240)
    assert pictures.preview is None
    assert decoded(pictures.thumb).shape == (240, 360, 3)


def test_what_is_near_360_is_left_as_it_is() -> None:
    assert encode_pictures(halves(256, 384), None, 1).width == 384


def test_a_picture_of_one_pixel() -> None:
    assert encode_pictures(np.zeros((1, 1, 3), np.uint8), None, 6).height == 1
