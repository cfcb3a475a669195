"""Light of real scenes exposed at known stops: shares and headroom straight from the light.

Source: tests/data/dawn.npz and sunset.npz, decoded from the npm package @pmndrs/assets 1.7.0,
CC0 1.0. What is expected here is worked out from the radiance alone, without the camera.
"""

from __future__ import annotations

import math
from functools import lru_cache
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from auditor.figures.channel import bright_end_dn, quantile_dn
from auditor.model.measurement import MosaicMeasurement
from sample_generation.camera import SimulatedCamera
from sample_generation.layouts import RGB_CHANNEL, colour_layout
from sample_generation.real_scenes import real_radiance
from tests.built_mosaics import SATURATION_E, measured

DATA = Path(__file__).parent.parent / "data"
WIDTH, HEIGHT = 1200, 600
F_NUMBER = 8.0

scenes = pytest.mark.parametrize("scene", ["dawn", "sunset"])


@lru_cache(maxsize=2)
def radiance(scene: str) -> NDArray[np.float32]:
    return real_radiance(DATA / f"{scene}.npz", (WIDTH, HEIGHT))


def time_for(scene: str, stops: float) -> float:
    """The time that puts all but a thousandth of green so many stops under saturation."""
    bright = float(np.quantile(radiance(scene)[..., 1], 0.999))
    return float(SATURATION_E * F_NUMBER**2 / bright / 2.0**stops)


@lru_cache(maxsize=8)
def exposed(scene: str, stops: float, layout: str = "RGGB") -> MosaicMeasurement:
    camera = SimulatedCamera(
        layout=layout, width=WIDTH, height=HEIGHT, hot_per_megapixel=0.0,
        saturation_plane_step_dn=0.0, dark_current_e_s=0.0,
    )  # fmt: skip
    return measured(camera.expose(radiance(scene), time_for(scene, stops), F_NUMBER, rng=3).mosaic)


def electrons(scene: str, stops: float, name: str, layout: str = "RGGB") -> NDArray[np.float64]:
    """Electrons that the light alone makes in the pixels of one plane."""
    light = radiance(scene)[..., RGB_CHANNEL[name]].astype(np.float64)
    colours = colour_layout(layout)
    places = np.argwhere(colours.pattern == colours.planes.index(name))
    if layout == "LINEAR":
        places = np.array([[0, 0]])
    rows, cols = colours.pattern.shape
    own = np.concatenate([light[y::rows, x::cols].ravel() for y, x in places])
    return own * time_for(scene, stops) / F_NUMBER**2


@scenes
@pytest.mark.parametrize("stops", [-0.5, -2.0, -4.0])
@pytest.mark.parametrize("layout", ["RGGB", "XTRANS", "LINEAR"])
def test_blown_share_is_that_of_the_light_over_saturation(
    scene: str, stops: float, layout: str
) -> None:
    for plane in exposed(scene, stops, layout).planes:
        wanted = float((electrons(scene, stops, plane.name, layout) >= SATURATION_E).mean())
        share = plane.histogram.at_or_above(plane.clip_threshold_dn) / plane.pixels
        assert share == pytest.approx(wanted, abs=1e-3 + 0.01 * wanted)
        assert (plane.pile_up is not None) == (wanted > 2e-4)


@scenes
@pytest.mark.parametrize("stops", [0.5, 1.5, 3.0])
def test_headroom_is_that_of_the_light_under_saturation(scene: str, stops: float) -> None:
    for plane in exposed(scene, stops).planes:
        light = electrons(scene, stops, plane.name)
        wanted = math.log2(SATURATION_E / float(np.quantile(light, 1 - 1e-4)))
        room = math.log2((15872.0 - 512.0) / (bright_end_dn(plane, 1e-4) - plane.black_dn))
        assert room == pytest.approx(max(wanted, 0.0), abs=0.04)
        if abs(wanted) > 0.1:  # nearer than that, noise decides which pixels reach saturation
            assert (plane.pile_up is not None) == (wanted < 0.0)


@scenes
@pytest.mark.parametrize("stops", [-2.0, 1.5])
def test_the_middle_tone_is_that_of_the_light(scene: str, stops: float) -> None:
    for plane in exposed(scene, stops).planes:
        wanted = float(np.median(electrons(scene, stops, plane.name))) * 0.3
        assert quantile_dn(plane.histogram, 0.5) - plane.black_dn == pytest.approx(wanted, rel=0.02)


@scenes
def test_one_stop_less_is_half_the_signal_everywhere(scene: str) -> None:
    more, less = exposed(scene, 0.5).maps.mean_dn, exposed(scene, 1.5).maps.mean_dn
    assert np.median(np.log2(more / np.maximum(less, 1e-6))) == pytest.approx(1.0, abs=5e-3)


@scenes
@pytest.mark.parametrize("stops", [3.5, 4.2])
def test_the_share_under_the_floor_is_that_of_the_light(scene: str, stops: float) -> None:
    found = exposed(scene, stops)
    for index, plane in enumerate(found.planes):
        floor_dn = plane.noise.floor_dn
        assert floor_dn is not None
        light_dn = electrons(scene, stops, plane.name) * 0.3
        share = float((found.maps.mean_dn[index] < floor_dn).mean())
        assert share == pytest.approx(float((light_dn < floor_dn).mean()), abs=0.01)


@scenes
def test_gain_and_read_noise_of_real_light(scene: str) -> None:
    for plane in exposed(scene, 1.5).planes:
        assert plane.noise.gain_dn_per_e == pytest.approx(0.3, rel=0.05)
        assert plane.noise.read_noise_dn == pytest.approx(1.076, rel=0.05)
