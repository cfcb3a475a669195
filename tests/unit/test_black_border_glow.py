"""Borders that glow tell true noise or none; honest ones are used whole."""

from __future__ import annotations

import numpy as np
import pytest

from auditor.black.border import FINE_SHARES, BorderLevel, border_levels, dark_lines, lit_across
from auditor.model.arrays import F64
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
@pytest.mark.parametrize("brightest_dn", [40.0, 100.0, 400.0, 2000.0])
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


LINES = 60
"""Of a part, of four pixels each."""


def parts(level: list[float], grows: float) -> F64:
    """Eight parts whose noise grows exactly with their level; that without light is 1."""
    levels = np.repeat(level, LINES)
    sign = 1.0 - 2.0 * (np.indices((4, len(levels))).sum(axis=0) % 2)
    return np.asarray(levels + sign * np.sqrt((1.0 + grows * levels) / 16.0), dtype=np.float64)


def dark_parts(values: F64, hot: float = 0.0) -> float | None:
    """How many of the lines are left, in parts; with a share of hot pixels in the first part."""
    flags = np.zeros(values.shape, dtype=np.bool_)
    flags.T.flat[: round(hot * 4 * LINES)] = True
    dark = dark_lines(values, flags)
    return None if dark is None else float(dark.sum()) / LINES


@pytest.mark.parametrize(("adds", "left"), [(0.08, 5), (0.12, 4)])
def test_parts_that_light_makes_a_tenth_noisier_are_left_out(adds: float, left: int) -> None:
    assert dark_parts(parts([20.0, 10.0, 5.0, adds / 0.3, 0.0, 0.0, 0.0, 0.0], 0.3)) == left
    assert dark_parts(parts([20.0, 10.0, 5.0, 3.0, 2.0, 0.0, 0.0, 0.0], 0.3)) is None


@pytest.mark.parametrize(("errors", "left"), [(4.5, 8), (5.5, 7)])
def test_noise_that_grows_beyond_chance_is_of_light(errors: float, left: int) -> None:
    level = np.array([10.0, 0, 0, 0, 0, 0, 0, 0])
    apart = level - level.mean()
    grows = errors * float(FINE_SHARES / (4 * LINES) / (apart @ apart)) ** 0.5
    assert dark_parts(parts(list(level), grows)) == left


@pytest.mark.parametrize(("hot", "left"), [(0.08, 8), (0.12, 7)])
def test_a_part_that_is_hot_all_over_is_lit(hot: float, left: int) -> None:
    assert dark_parts(parts([0.0] * 8, 0.3), hot) == left


@pytest.mark.parametrize(
    ("climb_dn", "adds", "errors", "lit"),
    [(4.0, 0.4, 9.0, True), (4.0, 0.4, 4.0, False), (4.0, 0.08, 9.0, False)],
)
def test_noise_that_grows_across_a_border_is_of_light(
    climb_dn: float, adds: float, errors: float, lit: bool
) -> None:
    """Six rows climb, and their noise with them: by a share of it, so many errors beyond chance."""
    share = np.linspace(0.0, adds, 5)
    spread = float(np.square(share - share.mean()).sum() / 1.0) / (1.0 + adds / 2.0) ** 2
    columns = round(FINE_SHARES * errors**2 / spread)
    rows = np.linspace(0.0, climb_dn, 6)[:, None] * np.ones((1, columns + 1))
    assert lit_across(rows, np.sqrt(1.0 + share)[:, None] * np.ones((1, columns))) == lit
