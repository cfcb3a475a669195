"""Hot pixels: found where they show, and points of light left alone."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from auditor.defects.hot_pixels import confirm_hot
from auditor.model.measurement import MosaicMeasurement, NoiseEstimate
from auditor.noise.estimate import NoiseModel
from auditor.sensor.lattice import SensorLattice
from sample_generation.camera import SimulatedCamera
from sample_generation.layouts import LAYOUT_NAMES, colour_layout
from tests.built_mosaics import RGGB, SATURATION_E, border_of, measured, mosaic_of, noisy

SHAPE = (240, 320)
PLACES = [(20, 31), (57, 60), (100, 201), (143, 144), (200, 300)]


def places(found: MosaicMeasurement) -> set[tuple[int, int]]:
    return {(row, col) for row, col in found.hot.positions.tolist()}


def base(layout: str, signal_dn: float = 40.0) -> NDArray[np.float64]:
    values = noisy(signal_dn, SHAPE)
    return np.stack([values] * 3, axis=-1) if layout == "LINEAR" else values


@pytest.mark.parametrize("layout", LAYOUT_NAMES)
def test_isolated_pixels_are_found_in_every_layout(layout: str) -> None:
    values = base(layout)
    for height_dn, place in zip((120, 300, 900, 4000, 14000), PLACES, strict=True):
        values[(*place, 1) if layout == "LINEAR" else place] += height_dn
    found = measured(mosaic_of(np.rint(values), colour_layout(layout).pattern))
    assert places(found) == set(PLACES)
    assert found.hot.count == 5
    assert found.hot.per_megapixel == pytest.approx(5e6 / (SHAPE[0] * SHAPE[1]))
    assert sum(plane.hot_count for plane in found.planes) == 5


def test_a_place_hot_in_all_three_samples_is_one_hot_pixel() -> None:
    values = base("LINEAR")
    for place in PLACES:
        values[place] += 5000
    found = measured(mosaic_of(np.rint(values)))
    assert (found.hot.count, len(found.hot.positions)) == (5, 5)
    assert found.hot.per_megapixel == pytest.approx(5e6 / (SHAPE[0] * SHAPE[1]))
    assert places(found) == set(PLACES)
    assert [plane.hot_count for plane in found.planes] == [5, 5, 5]


def test_their_values_are_listed_plane_by_plane_in_order() -> None:
    values = np.rint(base("MONO"))
    for height_dn, place in zip((3000, 9000, 6000), PLACES, strict=False):
        values[place] = height_dn
    (plane,) = measured(mosaic_of(values)).planes
    assert plane.hot_dn.tolist() == [3000, 6000, 9000]


def test_noise_alone_makes_none() -> None:
    for signal_dn in (0.0, 300.0, 9000.0):
        mosaic = mosaic_of(np.rint(noisy(signal_dn, (600, 800))), masked=(border_of((20, 800)),))
        assert measured(mosaic).hot.count == 0


@pytest.mark.parametrize("layout", LAYOUT_NAMES)
@pytest.mark.parametrize("width_px", [1.4, 2.5])
def test_stars_are_spread_by_the_lens_and_are_none(layout: str, width_px: float) -> None:
    y, x = np.mgrid[: SHAPE[0], : SHAPE[1]]
    light = np.zeros(SHAPE)
    rng = np.random.default_rng(5)
    for _ in range(60):
        row, col = rng.uniform(8, SHAPE[0] - 8), rng.uniform(8, SHAPE[1] - 8)
        away = (y - row) ** 2 + (x - col) ** 2
        light += rng.uniform(500, 9000) * np.exp(-4 * np.log(2) * away / width_px**2)
    values = noisy(40.0 + light, SHAPE)
    pixels = np.stack([values] * 3, axis=-1) if layout == "LINEAR" else values
    found = measured(mosaic_of(np.rint(pixels).clip(0, 16000), colour_layout(layout).pattern))
    assert found.hot.count <= 1


def test_a_short_daylight_frame_has_next_to_none() -> None:
    rng = np.random.default_rng(3)
    leaves = np.exp(0.5 * rng.standard_normal((130, 170)))
    texture = np.kron(leaves, np.ones((2, 2)))[: SHAPE[0], : SHAPE[1]]
    soft = (texture + np.roll(texture, 1, 0) + np.roll(texture, 1, 1)) / 3
    found = measured(mosaic_of(np.rint(noisy(800.0 * soft, SHAPE)).clip(0, 16383)))
    assert found.hot.count <= 1


def test_a_long_dark_exposure_shows_those_of_the_simulated_camera() -> None:
    camera = SimulatedCamera(layout="RGGB", width=900, height=600, hot_per_megapixel=200.0)
    taken = camera.expose(np.zeros((600, 900, 3), np.float32), 60.0, cap_on=True, rng=1)
    truth, found = taken.truth, measured(taken.mosaic)
    plain = truth.hot_signal_dn > 20.0 * truth.planes[0].read_noise_dn
    inner = np.all((truth.hot_positions >= 3) & (truth.hot_positions < [597, 897]), axis=1)
    wanted = {tuple(place) for place in truth.hot_positions[plain & inner].tolist()}
    known = {tuple(place) for place in truth.hot_positions.tolist()}
    assert len(wanted) > 50
    assert len(wanted & places(found)) >= 0.95 * len(wanted)
    assert places(found) <= known


def test_more_of_them_with_more_time() -> None:
    camera = SimulatedCamera(layout="GRBG", width=600, height=400, hot_per_megapixel=200.0)
    light = np.full((400, 600, 3), 0.02 * SATURATION_E * 64, np.float32)
    counts = [
        measured(camera.expose(light / time_s, time_s, rng=2).mosaic).hot.count
        for time_s in (0.05, 2.0, 60.0)
    ]
    assert counts[0] <= 1 < counts[1] < counts[2]


def test_at_most_4096_are_listed_and_all_are_counted() -> None:
    values = np.rint(noisy(40.0, (900, 900)))
    values[10:890:12, 10:890:12] += 5000
    found = measured(mosaic_of(values))
    assert found.hot.count == 74 * 74
    assert len(found.hot.positions) == 4096
    assert len(found.planes[0].hot_dn) == 4096
    assert found.planes[0].hot_count == 74 * 74


@pytest.mark.parametrize(
    ("over", "darker", "beside", "hot"),
    [
        (140, 0, 0, False), (180, 0, 0, True),
        (250, 100, 0, False), (350, 100, 0, True),
        (5000, 0, 350, True), (5000, 0, 450, False),
        (170, 0, 25, True), (170, 0, 35, False),
    ],
)  # fmt: skip
def test_on_either_side_of_the_numbers_that_a_hot_pixel_is_told_by(
    over: int, darker: int, beside: int, *, hot: bool
) -> None:
    """A pixel so far over the others, one of them darker; the four of other colours got light.

    Noise is 20 DN: 8 times that, 3 times what the neighbours range over; four pixels with 8 % of
    the peak each, or with together 3 times their noise.
    """
    pixels = np.full((24, 24), 1000, np.uint16)
    pixels[12, 12] += over
    pixels[14, 12] -= darker
    for row, col in ((11, 12), (13, 12), (12, 11), (12, 13)):
        pixels[row, col] += beside
    noise = NoiseModel(NoiseEstimate(20.0, 1e-6))
    where = np.array([12]), np.array([12])
    found = confirm_hot(SensorLattice(pixels, RGGB), where, [noise] * 4, [0.0] * 4)
    assert bool(len(found.rows)) == hot
