"""Borders that glow tell true noise or none; honest ones are used whole."""

from __future__ import annotations

import numpy as np
import pytest

from auditor.black.border import BorderLevel, border_levels
from auditor.model.mosaic import MaskedArea
from tests.built_effects import glowing
from tests.built_mosaics import BLACK_DN, RGGB, mosaic_of

READ_DN = 2.0
SIZES = ((480, 640), (800, 1200), (1600, 2400), (2832, 4256))


def border(size: tuple[int, int], seed: int, glow: tuple[float, float]) -> dict[int, BorderLevel]:
    """Twelve rows above and 24 columns beside a picture of a size, lit by a glowing corner."""
    (height, width), rng = size, np.random.default_rng(seed)
    masked = []
    for shape, top, left in (((12, width + 24), -12, -24), ((height, 24), 0, -24)):
        # what lies beside the area makes the distance from the corner right
        whole = BLACK_DN + READ_DN * rng.standard_normal((shape[0] + 12 + top, shape[1]))
        lit = np.rint(glowing(*glow)(whole, rng)[12 + top :])
        masked.append(MaskedArea(lit.astype(np.uint16), top, left))
    return border_levels(mosaic_of(np.full((16, 16), 600), RGGB, masked=tuple(masked)))


@pytest.mark.parametrize("size", SIZES)
def test_an_honest_border_is_used_whole(size: tuple[int, int]) -> None:
    """No plane of 240 of each size loses a part."""
    found = [border(size, seed, (0.0, 50.0)) for seed in range(60)]
    used = [own.degrees_of_freedom for levels in found for own in levels.values()]
    assert len(used) == 4 * len(found)
    assert min(used) > 0.97 * max(used)


@pytest.mark.parametrize("width_px", [50.0, 100.0, 200.0])
@pytest.mark.parametrize("brightest_dn", [40.0, 100.0, 400.0])
@pytest.mark.parametrize("size", SIZES[:2])
def test_a_border_that_glows_tells_true_noise_or_none(
    size: tuple[int, int], brightest_dn: float, width_px: float
) -> None:
    for seed in range(6):
        for own in border(size, seed, (brightest_dn, width_px)).values():
            assert own.variance_dn2**0.5 == pytest.approx(READ_DN, rel=0.15)


def test_a_small_glow_leaves_the_rest_of_the_border() -> None:
    for seed in range(6):
        assert len(border(SIZES[1], seed, (400.0, 50.0))) == 4
