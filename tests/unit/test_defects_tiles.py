"""Tiles of packed pictures that hold other data: breaks along their borders, and nothing else."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from auditor.defects.tiles import foreign_tiles

ROWS, COLS, TILE = 512, 768, 256


def scene(seed: int = 1) -> NDArray[np.uint16]:
    rng = np.random.default_rng(seed)
    y, x = np.mgrid[:ROWS, :COLS]
    waves = 200.0 * np.cos(x / 61.0 + y / 83.0) + 90.0 * np.cos(x / 7.0 - y / 11.0)
    values: NDArray[np.float64] = 3000.0 + waves + rng.normal(0.0, 20.0, (ROWS, COLS))
    return values.astype(np.uint16)


def told(values: NDArray[np.uint16]) -> bool:
    return bool(foreign_tiles(values, (TILE, TILE), (2, 2)))


def test_a_whole_scene_breaks_nowhere() -> None:
    assert not any(told(scene(seed)) for seed in range(10))


@pytest.mark.parametrize("lift_dn", [400, -300])
def test_a_tile_that_stands_off_from_its_middle_on_is_told_with_its_place(lift_dn: int) -> None:
    values = scene().astype(np.int32)
    values[256 + 100 : 512, 256:512] += lift_dn
    (sign,) = foreign_tiles(values.astype(np.uint16), (TILE, TILE), (2, 2))
    assert sign.certain
    assert sign.share == pytest.approx(1 / 6)
    assert "1 of 6 tiles, the first from row 256, column 256 on" in sign.text


@pytest.mark.parametrize(
    "place", [(slice(0, 512), slice(256, 768)), (slice(256, 512), slice(0, 768))]
)
def test_an_edge_of_the_scene_along_one_border_is_no_damage(place: tuple[slice, slice]) -> None:
    values = scene().astype(np.int32)
    values[place] += 900
    assert not told(values.astype(np.uint16))


def test_a_wall_that_lies_elsewhere_is_no_damage() -> None:
    values = scene().astype(np.int32)
    values[200:400, 250:520] += 900
    values[:, 600] += 900
    assert not told(values.astype(np.uint16))


def test_strips_and_odd_tiles_are_left_alone() -> None:
    assert foreign_tiles(scene(), (1, COLS), (2, 2)) == ()
    assert foreign_tiles(scene(), (255, 255), (2, 2)) == ()
    assert foreign_tiles(np.zeros((8, 8, 3), np.uint16), (TILE, TILE), (2, 2)) == ()
