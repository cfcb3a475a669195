"""Pixels that record other light at the same places again and again."""

from __future__ import annotations

import numpy as np
import pytest

from auditor.black.levels import plane_black
from auditor.noise.repeating import planes_with_others
from auditor.sensor.lattice import lattices_of
from sample_generation.camera import SimulatedCamera
from tests.built_mosaics import RGGB, SATURATION_E, coast, mosaic_of


def told(share: float, noise_dn: float = 0.0, light_dn: float = 2000.0) -> set[int]:
    """Which planes stand out where one pixel of red in 48 x 48 differs by a share of the light."""
    values = 512.0 + light_dn + noise_dn * np.random.default_rng(3).standard_normal((480, 480))
    values[4::48, 6::48] += share * light_dn
    mosaic = mosaic_of(np.rint(values), RGGB)
    (lattice,) = lattices_of(mosaic)
    return planes_with_others(
        lattice, {plane: plane_black(mosaic, lattice, plane, None) for plane in range(4)}
    )


@pytest.mark.parametrize(("share", "found"), [(0.012, {0}), (-0.012, {0}), (0.008, set())])
def test_pixels_that_stand_out(share: float, found: set[int]) -> None:
    assert told(share) == found


@pytest.mark.parametrize(("share", "found"), [(0.2, {0}), (0.11, set()), (0.0, set())])
def test_no_more_than_noise_lets_expect(share: float, found: set[int]) -> None:
    """Fifty pixels a place scatter by 85 DN of 2000, and so do their neighbours."""
    assert told(share, noise_dn=300.0) == found


def test_in_the_dark_nothing_stands_out() -> None:
    assert told(0.05, light_dn=3.0) == set()


@pytest.mark.parametrize("layout", ["RGGB", "XTRANS", "LINEAR", "MONO"])
@pytest.mark.parametrize("scene", ["coast", "sky"])
def test_scenes_have_no_such_places(layout: str, scene: str) -> None:
    sky = np.linspace(1.4, 0.02, 600)[:, None, None] * np.ones((1, 900, 3), np.float32)
    camera = SimulatedCamera(layout=layout, width=900, height=600)
    light = coast(600, 900) if scene == "coast" else sky
    mosaic = camera.expose(light * np.float32(SATURATION_E * 64.0), 1.0, 8.0, 100.0, rng=1).mosaic
    for lattice in lattices_of(mosaic):
        blacks = {plane: plane_black(mosaic, lattice, plane, None) for plane in lattice.planes}
        assert planes_with_others(lattice, blacks) == set()
