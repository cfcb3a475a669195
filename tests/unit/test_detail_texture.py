"""Detail in units of noise, and the sharpness of a frame."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from auditor.detail.texture import sharpness
from auditor.model.measurement import MosaicMeasurement
from sample_generation.layouts import LAYOUT_NAMES
from tests.built_mosaics import RGGB, border_of, measured, measured_coast, mosaic_of, noisy

SHAPE = (600, 800)


def frame(light: NDArray[np.float64]) -> MosaicMeasurement:
    values = np.rint(noisy(light, SHAPE)).clip(0, 16383)
    return measured(mosaic_of(values, RGGB, masked=(border_of((40, 800)),)))


def wedge() -> NDArray[np.float64]:
    """From dark to bright, everywhere by less than the noise from pixel to pixel."""
    return np.broadcast_to(3000.0 * np.linspace(0.02, 1, SHAPE[1]) ** 2, SHAPE)


def grain(blur_px: int) -> NDArray[np.float64]:
    rough = np.random.default_rng(1).standard_normal(SHAPE)
    for axis in (0, 1):
        moved = [np.roll(rough, shift, axis) for shift in range(blur_px)]
        rough = sum(moved, np.zeros(SHAPE)) / blur_px
    return 1.0 + 0.1 * rough / float(rough.std())


@pytest.mark.parametrize("layout", LAYOUT_NAMES)
def test_noise_alone_is_one(layout: str) -> None:
    found = measured_coast(layout, 3200.0)
    if np.isnan(found.maps.detail).all():
        assert layout == "LINEAR"
        return
    upper = found.maps.detail[2 : found.maps.shape[0] // 3, : found.maps.shape[1] // 4]
    assert np.nanmedian(upper) == pytest.approx(1.0, abs=0.08)


def test_noise_alone_has_no_sharpness() -> None:
    found = frame(wedge())
    assert np.nanmedian(found.maps.detail) == pytest.approx(1.0, abs=0.05)
    assert found.sharpness is None


def test_sharper_texture_has_more_detail() -> None:
    sides = []
    for blur_px in (3, 5, 9):  # at 2, all over the bright levels, it reads as a bent response
        light = wedge().copy()
        light[:, 400:] *= grain(blur_px)[:, 400:]
        sides.append(frame(light))
    values = [found.sharpness or 0.0 for found in sides]
    assert values[0] > values[1] > values[2]
    middle = sides[0].maps.shape[1] // 2
    assert np.nanmedian(sides[0].maps.detail[:, : middle - 1]) == pytest.approx(1.0, abs=0.1)
    assert np.nanmedian(sides[0].maps.detail[:, middle + 1 :]) > 2.0


def test_blown_tiles_tell_nothing() -> None:
    light = wedge().copy()
    light[100:200, 100:200] = 40000.0
    found = frame(light)
    assert found.planes[1].pile_up is not None
    over = found.maps.over_share[1] > 0
    assert over.any()
    assert np.isnan(found.maps.detail[over]).all()
    assert not np.isnan(found.maps.detail[~over]).any()


def test_without_known_noise_there_is_no_detail() -> None:
    found = measured(mosaic_of(np.rint(noisy(6000.0, SHAPE)), RGGB))
    assert np.isnan(found.maps.detail).all()
    assert found.sharpness is None


def test_sharpness_is_the_upper_quartile_of_tiles_with_detail() -> None:
    detail = np.array([[1.0, 1.1, 2.0, 3.0, 4.0], [5.0, 6.0, 7.0, 8.0, np.nan]], np.float32)
    everywhere = np.ones(detail.shape, dtype=bool)
    assert sharpness(np.tile(detail, (2, 1)), np.tile(everywhere, (2, 1))) == pytest.approx(6.75)
    assert sharpness(detail, detail < 2.5) is None
