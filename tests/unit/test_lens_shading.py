"""Lens shading: recovered from even scenes, and never made up from others."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from auditor.lens.shading import ShadingView, measure_shading
from auditor.model.arrays import F64
from auditor.model.optics import LensShading, NoShading

TILE_PX, ROWS, COLS = 40, 126, 189
HALF = np.hypot(ROWS, COLS) / 2
Y, X = np.meshgrid(
    (np.arange(ROWS) + 0.5 - ROWS / 2) / HALF, (np.arange(COLS) + 0.5 - COLS / 2) / HALF,
    indexing="ij",
)  # fmt: skip
R = np.hypot(X, Y)


def cos4(tangent: float) -> F64:
    """The natural fall-off in stops, given the tangent of the field angle in the corner."""
    stops: F64 = -2.0 * np.log2(1.0 + (tangent * R) ** 2)
    return stops


def shading_of(
    stops: F64, *, level: float = 3000.0, noise: float = 0.01, seed: int = 1
) -> LensShading:
    grain = np.random.default_rng(seed).normal(1.0, noise, stops.shape)
    mean_dn = (level * np.exp2(stops) * grain).astype(np.float32)
    clean = mean_dn < 15000
    return measure_shading(ShadingView(mean_dn, clean, TILE_PX, COLS * TILE_PX, ROWS * TILE_PX))


def at_corner(tangent: float) -> float:
    """The natural fall-off at the very corner, r = 1."""
    return -2.0 * float(np.log2(1.0 + tangent**2))


@given(tangent=st.floats(0.1, 0.95), slope=st.floats(-0.4, 0.4), angle=st.floats(0, 6.3))
@settings(max_examples=60, deadline=None)
def test_natural_fall_off_is_recovered_under_slanting_light(
    tangent: float, slope: float, angle: float
) -> None:
    """cos⁴ of the field angle: the law of natural vignetting, in every handbook of optics."""
    light = slope * (X * np.cos(angle) + Y * np.sin(angle))
    found = shading_of(cos4(tangent) + light)
    assert found.corner_stops == pytest.approx(at_corner(tangent), abs=0.08)
    assert found.error_stops is not None
    assert found.error_stops < 0.05


def test_a_lens_that_shades_only_near_the_corner_is_measured() -> None:
    assert shading_of(-1.5 * R**4).corner_stops == pytest.approx(-1.5, abs=0.05)


def test_a_frame_without_shading_has_none() -> None:
    assert shading_of(np.zeros_like(R)).corner_stops == pytest.approx(0.0, abs=0.02)


def test_birds_and_twigs_in_an_even_sky_are_left_out() -> None:
    scene = cos4(0.8)
    scene[30:42, 20:60] -= 3.0
    scene[100:110, 100:130] += 0.8
    assert shading_of(scene).corner_stops == pytest.approx(at_corner(0.8), abs=0.08)


def sky_and_ground() -> F64:
    return np.where(Y > 0.1, -3.0, 0.0).astype(np.float64)


def mountains() -> F64:
    return np.where(0.15 * np.sin(9 * X) < Y, -1.0, 0.4 * Y)


def stones() -> F64:
    grain = np.random.default_rng(5).normal(0, 0.5, (ROWS // 9, COLS // 9))
    return np.kron(grain, np.ones((9, 9))).astype(np.float64)


def glow() -> F64:
    """The sun's halo about the centre of the frame."""
    halo: F64 = -3.0 * (1.0 - np.exp(-((R / 0.35) ** 2)))
    return halo


def glow_beside() -> F64:
    halo: F64 = -2.5 * (1.0 - np.exp(-(((X - 0.3) ** 2 + (Y - 0.2) ** 2) / 0.5)))
    return halo


def sky_of_sunset() -> F64:
    stops: F64 = -2.0 * (Y + 0.6) ** 2
    return stops


@pytest.mark.parametrize(
    ("scene", "reason"),
    [
        (sky_and_ground, NoShading.SCENE),
        (mountains, NoShading.SCENE),
        (stones, NoShading.SCENE),
        (glow, NoShading.LIGHT),
        (glow_beside, NoShading.LIGHT),
        (sky_of_sunset, NoShading.LIGHT),
    ],
)
@pytest.mark.parametrize("tangent", [0.0, 0.5, 0.9])
def test_a_scene_with_tones_of_its_own_tells_nothing(
    scene: Callable[[], F64], reason: NoShading, tangent: float
) -> None:
    found = shading_of(scene() + cos4(tangent))
    assert found.corner_stops is None
    assert found.reason in (reason, NoShading.SCENE)


def test_clipped_dark_and_small_frames_say_why() -> None:
    assert shading_of(cos4(0.5), level=60000.0).reason is NoShading.CLIPPED
    assert shading_of(cos4(0.5), level=9.0).reason is NoShading.DARK
    small = measure_shading(
        ShadingView(np.ones((8, 12), np.float32), np.ones((8, 12), np.bool_), 8, 96, 64)
    )
    assert small.reason is NoShading.TOO_SMALL


@given(seed=st.integers(0, 2**32 - 1), strength=st.floats(0.05, 2.0), tangent=st.floats(0.0, 1.0))
@settings(max_examples=150, deadline=None)
def test_uneven_light_is_refused_or_adds_less_than_a_third_of_a_stop(
    seed: int, strength: float, tangent: float
) -> None:
    """Broad light and shade of any kind: clouds, hills in mist, a lit wall."""
    chance = np.random.default_rng(seed)
    scene = np.zeros_like(R)
    for _ in range(4):
        wave, phase = chance.uniform(-4, 4, 2), chance.uniform(0, 2 * np.pi)
        scene += strength / 4 * np.cos(wave[0] * X + wave[1] * Y + phase)
    found = shading_of(scene + cos4(tangent))
    if found.corner_stops is not None:
        assert found.corner_stops == pytest.approx(at_corner(tangent), abs=0.33)
