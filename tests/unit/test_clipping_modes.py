"""Clipping that is as loose as noise: told by what colours share, and never made of a scene."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from auditor.model.measurement import PlaneMeasurement
from sample_generation.coding import Coding
from tests.built_mosaics import RGGB, border_of, exposed, measured, mosaic_of

FIGURES: list[tuple[str, dict[str, Any]]] = [
    ("ten DN", {"saturation_spread_dn": 10.0}),
    ("thirty DN", {"saturation_spread_dn": 30.0}),
    ("pixels 0.4 %", {"saturation_spread_dn": 61.0}),
    ("rows 0.3 %", {"saturation_row_spread_dn": 46.0}),
    ("pixels and rows", {"saturation_spread_dn": 61.0, "saturation_row_spread_dn": 46.0}),
    ("spill", {"spill": 0.1, "saturation_spread_dn": 30.0}),
    ("ringing", {"coding": Coding(ringing_dn=300.0)}),
    ("coarse codes", {"coding": Coding(step_dn=16), "saturation_spread_dn": 20.0}),
    ("no border", {"margin_top": 0, "margin_left": 0, "saturation_spread_dn": 61.0}),
    (
        "far under the claim, no border",
        {
            "white_tag_dn": 65535, "bit_depth": 16, "margin_top": 0, "margin_left": 0,
            "saturation_spread_dn": 40.0,
        },
    ),
    (
        "12 bits",
        {
            "bit_depth": 12, "black_dn": 128.0, "white_tag_dn": 4095, "saturation_dn": 3967.0,
            "saturation_plane_step_dn": 2.0, "gain_iso100_dn_per_e": 0.075,
            "saturation_spread_dn": 15.0,
        },
    ),
]  # fmt: skip


@pytest.mark.parametrize("layout", ["RGGB", "XTRANS", "LINEAR"])
@pytest.mark.parametrize("body", [body for _, body in FIGURES], ids=[name for name, _ in FIGURES])
def test_loose_clipping_is_measured(layout: str, body: dict[str, Any]) -> None:
    """Blown within 0.1 point of the plane, saturation within 0.4 %, where 0.5 % clips at all."""
    taken = exposed(layout, **body)
    seen = 0
    for plane, truth in zip(measured(taken.mosaic).planes, taken.truth.planes, strict=True):
        if truth.blown_pixels >= 0.005 * truth.pixels:
            seen += 1
            assert plane.pile_up is not None
            assert plane.pile_up.level_dn == pytest.approx(truth.saturation_dn, rel=4e-3)
            assert blown(plane) == pytest.approx(truth.blown_pixels / truth.pixels, abs=1e-3)
    assert seen >= 2


def blown(plane: PlaneMeasurement) -> float:
    assert plane.pile_up is not None
    return plane.histogram.at_or_above(plane.pile_up.from_dn) / plane.pixels


Y, X = np.mgrid[0:400, 0:600] / np.array([400.0, 600.0])[:, None, None]


def of(*colours: tuple[float, float, float], places: list[Any]) -> NDArray[np.float64]:
    """A picture of signals in DN, (rows, cols, 3): each colour in its place, the last elsewhere."""
    picture = np.broadcast_to(np.array(colours[-1]), (400, 600, 3)).copy()
    for colour, place in reversed(list(zip(colours, places, strict=False))):
        picture[place] = colour
    return picture


LAND = (2000.0, 3000.0, 1500.0)
SCENES = {
    "a grey wall": of((14000.0, 14000.0, 14000.0), places=[]),
    "a wall alike in two colours": of((14000.0, 14000.0, 9000.0), places=[]),
    "a sky alike in two colours": of((13950.0, 14000.0, 9000.0), LAND, places=[Y < 0.4]),
    "two objects alike": of(
        (10000.0, 14000.0, 9000.0), (14000.0, 6000.0, 2000.0), LAND, places=[Y < 0.4, X < 0.1]
    ),
    "a vignetted wall": of((13900.0, 14000.0, 9000.0), places=[])
    * (1.0 - 0.3 * ((X - 0.5) ** 2 + (Y - 0.5) ** 2))[..., None],
    "green skies of two levels": of(
        (9000.0, 14000.0, 12000.0), (6000.0, 13000.0, 9000.0), LAND, places=[Y < 0.2, Y < 0.5]
    ),
}


@pytest.mark.parametrize("masked", [True, False], ids=["noise known", "no border"])
@pytest.mark.parametrize("scene", SCENES.values(), ids=SCENES)
def test_a_scene_that_does_not_clip_makes_no_pile_up(
    scene: NDArray[np.float64], masked: bool
) -> None:
    rng = np.random.default_rng(4)
    values = np.zeros(scene.shape[:2])
    for (y, x), colour in zip(((0, 0), (0, 1), (1, 0), (1, 1)), (0, 1, 1, 2), strict=True):
        values[y::2, x::2] = scene[y::2, x::2, colour]
    noisy = 512.0 + values + np.sqrt(4.0 + 0.3 * values) * rng.standard_normal(values.shape)
    border = (border_of((12, 600)),) if masked else ()
    planes = measured(mosaic_of(np.rint(noisy), RGGB, masked=border)).planes
    assert [plane.pile_up for plane in planes] == [None] * 4


def test_rows_that_clip_higher_are_not_taken_for_the_level() -> None:
    """In a few topmost rows the pile-up is sharp; the sensor clips where the others do."""
    taken = exposed("RGGB", saturation_row_spread_dn=46.0, saturation_spread_dn=0.5)
    for plane, truth in zip(measured(taken.mosaic).planes, taken.truth.planes, strict=True):
        if truth.blown_pixels >= 0.005 * truth.pixels:
            assert plane.pile_up is not None
            assert plane.pile_up.level_dn == pytest.approx(truth.saturation_dn, rel=4e-3)
