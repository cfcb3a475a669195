"""On either side of every number that black is judged by."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from auditor.black.border import BorderLevel, border_levels
from auditor.black.findings import find_black_disagrees
from auditor.black.levels import plane_black
from auditor.model.mosaic import BlackLevels, MaskedArea
from auditor.sensor.lattice import lattices_of
from tests.built_mosaics import BLACK_DN, RGGB, mosaic_of, noisy

NOISE_DN = 8.0


def levels(shape: tuple[int, int], rows_off_dn: dict[int, float]) -> dict[int, BorderLevel]:
    """Measure a border of plain noise in which some rows lie higher."""
    pixels = BLACK_DN + NOISE_DN * np.random.default_rng(5).standard_normal(shape)
    for row, off_dn in rows_off_dn.items():
        pixels[row] += off_dn
    area = MaskedArea(np.rint(pixels).astype(np.uint16), -shape[0], 0)
    return border_levels(mosaic_of(np.rint(noisy(50.0, (120, 180))), RGGB, masked=(area,)))


@pytest.mark.parametrize(("sigmas", "kept"), [(4.2, True), (5.8, False)])
def test_a_row_far_off_is_no_black(sigmas: float, kept: bool) -> None:
    odd = levels((24, 180), {12: sigmas * NOISE_DN})[0].offset_dn
    assert (odd > 0.15 * NOISE_DN) == kept


@pytest.mark.parametrize(("sigmas", "kept"), [(4.2, True), (5.8, False)])
def test_pixels_far_off_are_no_black(sigmas: float, kept: bool) -> None:
    random = np.random.default_rng(2)
    pixels = BLACK_DN + NOISE_DN * random.standard_normal((24, 180))
    hot = random.choice(pixels.size, pixels.size // 20, replace=False)
    pixels.flat[hot] = BLACK_DN + sigmas * 1.06 * NOISE_DN  # so many of them widen the scatter
    area = MaskedArea(np.rint(pixels).astype(np.uint16), -24, 0)
    (level,) = border_levels(mosaic_of(np.rint(noisy(50.0, (120, 180))), masked=(area,))).values()
    assert (level.offset_dn > 0.1 * NOISE_DN) == kept


@pytest.mark.parametrize(("columns", "told"), [(60, False), (84, True)])
def test_so_many_pixels_tell_the_black_of_a_plane(columns: int, told: bool) -> None:
    # red has a quarter of the places: 3 rows of half as many columns, less one each, are free
    assert (0 in levels((8, columns), {})) == told


@pytest.mark.parametrize("shape", [(0, 40), (1, 40), (2, 200)])
def test_a_border_without_two_rows_of_a_plane_tells_nothing(shape: tuple[int, int]) -> None:
    assert levels(shape, {}) == {}


def source(offset_dn: float, error_dn: float) -> str:
    mosaic = mosaic_of(np.rint(noisy(50.0, (120, 180))))
    border = BorderLevel(offset_dn, error_dn, 4.0, 500, 1.0)
    return plane_black(mosaic, lattices_of(mosaic)[0], 0, border).source


@pytest.mark.parametrize(("errors", "told"), [(2.6, "metadata"), (3.4, "masked border")])
def test_a_border_contradicts_the_file_beyond_its_error(errors: float, told: str) -> None:
    assert source(errors * 0.1, 0.1) == told


@pytest.mark.parametrize(("share", "told"), [(0.043, "masked border"), (0.057, "metadata")])
def test_a_border_far_off_shows_something_else_than_black(share: float, told: str) -> None:
    white_dn = float(mosaic_of(np.rint(noisy(50.0, (120, 180)))).white_dn[0])
    assert source(share * (white_dn - BLACK_DN), 0.1) == told


@pytest.mark.parametrize(("share", "told"), [(0.22, "masked border"), (0.28, "metadata")])
def test_a_border_may_lie_further_up_where_the_file_claims_no_black(
    share: float, told: str
) -> None:
    black = BlackLevels(np.zeros((1, 1)))
    mosaic = mosaic_of(np.rint(noisy(50.0, (120, 180))), black=black)
    border = BorderLevel(share * float(mosaic.white_dn[0]), 0.1, 4.0, 500, 1.0)
    assert plane_black(mosaic, lattices_of(mosaic)[0], 0, border).source == told


@pytest.mark.parametrize(("off_dn", "told"), [(0.8, 0), (1.2, 1), (-1.2, 1)])
def test_a_difference_of_a_dn_is_worth_saying(off_dn: float, told: int) -> None:
    view: Any = SimpleNamespace(
        masked_black={"R": (512.0, 512.0), "B": (512.0, 512.0 + off_dn)},
        black_source="masked border",
    )
    found = list(find_black_disagrees(view))
    assert [one.channel for one in found] == ["B"] * told
    assert [one.value for one in found] == pytest.approx([off_dn] * told)


def areas(*noises_dn: float) -> list[MaskedArea]:
    """Borders of 4,000 pixels above and beside the picture, each with its noise."""
    random = np.random.default_rng(8)
    shapes = ((40, 100), (100, 40))
    return [
        MaskedArea(
            np.rint(BLACK_DN + noise_dn * random.standard_normal(shape)).astype(np.uint16),
            -40 if index == 0 else 0,
            0 if index == 0 else -40,
        )
        for index, (noise_dn, shape) in enumerate(zip(noises_dn, shapes, strict=False))
    ]


def variance(masked: list[MaskedArea]) -> float | None:
    mosaic = mosaic_of(np.rint(noisy(50.0, (120, 180))), masked=tuple(masked))
    return next((level.variance_dn2 for level in border_levels(mosaic).values()), None)


@pytest.mark.parametrize(("times", "used"), [(1.2, True), (1.7, False)])
def test_a_border_noisier_than_the_other_is_lit(times: float, used: bool) -> None:
    found = variance(areas(NOISE_DN, NOISE_DN * times**0.5))
    assert found is not None
    assert (found > 1.05 * NOISE_DN**2) == used


@pytest.mark.parametrize(("times", "used"), [(1.25, True), (1.8, False)])
def test_a_border_noisier_on_one_side_is_lit(times: float, used: bool) -> None:
    (area,) = areas(NOISE_DN)
    pixels = (area.pixels - BLACK_DN) * np.where(np.arange(100) < 50, 1.0, times**0.5) + BLACK_DN
    assert (variance([MaskedArea(np.rint(pixels).astype(np.uint16), -40, 0)]) is not None) == used


@pytest.mark.parametrize(("share", "used"), [(0.017, True), (0.023, False)])
def test_a_border_cut_off_at_zero_tells_nothing(share: float, used: bool) -> None:
    (area,) = areas(NOISE_DN)
    pixels = area.pixels.copy()
    pixels.flat[np.random.default_rng(6).choice(4_000, round(share * 4_000), replace=False)] = 0
    assert (variance([MaskedArea(pixels, -40, 0)]) is not None) == used


@pytest.mark.parametrize(("deviations", "told"), [(1.17, True), (0.95, False)])
def test_black_cut_off_at_its_lowest_value_tells_nothing(deviations: float, told: bool) -> None:
    """Of a normal law 12 % lie under -1.17, 17 % under -0.95 standard deviations."""
    pixels = NOISE_DN * np.random.default_rng(5).standard_normal((24, 180))
    cut = BLACK_DN + np.maximum(pixels, -deviations * NOISE_DN)
    area = MaskedArea(np.rint(cut).astype(np.uint16), -24, 0)
    assert (
        0 in border_levels(mosaic_of(np.rint(noisy(50.0, (120, 180))), RGGB, masked=(area,)))
    ) == told
