"""On either side of every number that lens shading is judged by."""

from __future__ import annotations

import numpy as np
import pytest

from auditor.lens.shading import BLOCK_TILES, ShadingView, measure_shading
from auditor.model.arrays import F64, Bool
from auditor.model.optics import NoShading

ROWS, COLS = 20, 30
Y, X = (
    (2 * part + 1 - size) / np.hypot(ROWS, COLS)
    for part, size in zip(np.indices((ROWS, COLS)), (ROWS, COLS), strict=True)
)
"""Centres of the blocks, 1 from the middle to a corner."""
R = np.hypot(X, Y)
FLAT = np.zeros((ROWS, COLS))


def refused(stops: F64, *, level: float = 3000.0, clean: Bool | None = None) -> NoShading | None:
    """Why a scene of so many stops a block tells no shading; None where it tells it."""
    tiles = np.ones((BLOCK_TILES, BLOCK_TILES))
    rows, cols = np.array(stops.shape) * BLOCK_TILES
    known = np.ones(stops.shape, np.bool_) if clean is None else clean
    view = ShadingView(
        np.kron(level * np.exp2(stops), tiles).astype(np.float32),
        np.kron(known, tiles).astype(np.bool_), 8, int(8 * cols), int(8 * rows),
    )  # fmt: skip
    return measure_shading(view).reason


@pytest.mark.parametrize(("side", "why"), [(5, NoShading.TOO_SMALL), (7, None)])
def test_a_picture_has_so_many_blocks_along_each_side(side: int, why: NoShading | None) -> None:
    assert refused(np.zeros((side, 12))) is why


@pytest.mark.parametrize(("level", "why"), [(20.0, NoShading.DARK), (28.0, None)])
def test_black_is_no_large_part_of_the_signal(level: float, why: NoShading | None) -> None:
    assert refused(FLAT, level=level) is why


@pytest.mark.parametrize(("columns", "why"), [(9, NoShading.CLIPPED), (6, None)])
def test_three_quarters_of_the_picture_are_asked(columns: int, why: NoShading | None) -> None:
    clean = np.ones(FLAT.shape, np.bool_)
    clean[:, 4 : 4 + columns // 2] = clean[:, 26 - columns + columns // 2 : 26] = False
    assert refused(FLAT, clean=clean) is why


@pytest.mark.parametrize(("known", "why"), [(0.5, NoShading.SCENE), (0.7, None)])
def test_most_of_each_corner_follows(known: float, why: NoShading | None) -> None:
    clean = np.ones(FLAT.shape, np.bool_)
    corner = np.argwhere((R > 0.75) & (X > 0) & (Y > 0))
    clean[tuple(corner[round(known * len(corner)) :].T)] = False
    assert refused(FLAT, clean=clean) is why


@pytest.mark.parametrize(("stops", "why"), [(0.05, None), (0.07, NoShading.SCENE)])
def test_walls_and_mist_have_little_grain(stops: float, why: NoShading | None) -> None:
    grain = np.random.default_rng(1).normal(0.0, stops, FLAT.shape)
    assert refused(np.asarray(grain, np.float64)) is why


@pytest.mark.parametrize(("stops", "why"), [(1.0, None), (1.4, NoShading.LIGHT)])
def test_light_falls_off_gently(stops: float, why: NoShading | None) -> None:
    assert refused(stops / 2 * X / X.max()) is why


@pytest.mark.parametrize(("stops", "why"), [(0.1, None), (0.14, NoShading.LIGHT)])
def test_light_is_hardly_curved_in_one_direction(stops: float, why: NoShading | None) -> None:
    assert refused(2 * stops * (X**2 - Y**2)) is why


def shaded(corner: float, half_way: float) -> F64:
    """A fall-off to the corner, of which so much is reached half way there."""
    square = (16 * half_way - 1) / 3
    stops: F64 = corner * (square * R**2 + (1 - square) * R**4)
    return stops


@pytest.mark.parametrize(("half_way", "why"), [(0.43, None), (0.57, NoShading.LIGHT)])
def test_a_lens_shades_towards_the_corner(half_way: float, why: NoShading | None) -> None:
    assert refused(shaded(-1.0, half_way)) is why


@pytest.mark.parametrize(("corner", "why"), [(-0.12, None), (-0.18, NoShading.LIGHT)])
def test_the_shape_of_next_to_nothing_says_nothing(corner: float, why: NoShading | None) -> None:
    assert refused(shaded(corner, 0.7)) is why


@pytest.mark.parametrize(("corner", "why"), [(0.08, None), (0.12, NoShading.LIGHT)])
def test_no_lens_lights_its_corners_more(corner: float, why: NoShading | None) -> None:
    assert refused(shaded(corner, 0.3)) is why
