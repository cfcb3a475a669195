"""Black: the file's own pattern, corrected by the masked border when that is surer."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from auditor.model.codes import BlackSource
from auditor.model.mosaic import BlackLevels, MaskedArea, Mosaic
from tests.built_mosaics import BLACK_DN, RGGB, border_of, measured, mosaic_of, noisy, only_plane
from tests.told import said

SHAPE = (120, 180)


def flat(signal_dn: float = 50.0, **changes: Any) -> Mosaic:
    return mosaic_of(np.rint(noisy(signal_dn, SHAPE)), **changes)


def values(shape: tuple[int, int], level: float, seed: int = 3) -> NDArray[np.float64]:
    return level + 2.0 * np.random.default_rng(seed).standard_normal(shape)


def area(pixels: NDArray[np.float64]) -> MaskedArea:
    return MaskedArea(np.rint(pixels).clip(0).astype(np.uint16), -pixels.shape[0], 0)


def test_without_a_border_the_file_is_believed() -> None:
    plane = only_plane(flat())
    assert (plane.black_dn, plane.black_source) == (BLACK_DN, "metadata")
    assert plane.masked_black_dn is None
    assert plane.masked_black_error_dn is None


def test_a_border_that_agrees_changes_nothing() -> None:
    plane = only_plane(flat(masked=(border_of((24, 180)),)))
    assert (plane.black_dn, plane.black_source) == (BLACK_DN, "metadata")
    assert plane.masked_black_dn == pytest.approx(BLACK_DN, abs=0.2)


def test_a_border_that_disagrees_beyond_its_error_wins() -> None:
    plane = only_plane(flat(masked=(border_of((24, 180), black=515.5),)))
    assert plane.black_source == BlackSource.MASKED_BORDER
    assert plane.black_dn == plane.masked_black_dn == pytest.approx(515.5, abs=0.15)
    assert plane.black_tag_dn == BLACK_DN
    assert plane.masked_black_error_dn is not None
    assert 0.01 < plane.masked_black_error_dn < 0.15


def test_noise_of_whole_rows_widens_the_error_and_the_file_stands() -> None:
    rows = np.random.default_rng(1).normal(0, 3.0, (24, 1))
    plane = only_plane(flat(masked=(area(values((24, 180), BLACK_DN + 0.8) + rows),)))
    assert plane.masked_black_error_dn == pytest.approx(3.0 / 24**0.5, rel=0.5)
    assert plane.black_source == BlackSource.METADATA


def test_hot_pixels_in_the_border_count_for_nothing() -> None:
    pixels = values((24, 180), BLACK_DN)
    pixels[::3, ::17] = 9000.0
    plane = only_plane(flat(masked=(area(pixels),)))
    assert plane.black_dn == pytest.approx(BLACK_DN, abs=0.15)


@pytest.mark.parametrize("junk", [0.0, 60.0, 4000.0])
def test_lines_that_are_no_masked_pixels_are_left_out(junk: float) -> None:
    pixels = values((24, 180), BLACK_DN + 4)
    pixels[:3] = junk
    pixels[:, -5:] += 300.0
    plane = only_plane(flat(masked=(area(pixels),)))
    assert plane.black_source == BlackSource.MASKED_BORDER
    assert plane.black_dn == pytest.approx(BLACK_DN + 4, abs=0.2)


def test_a_border_of_one_value_tells_nothing() -> None:
    plane = only_plane(flat(masked=(area(np.zeros((24, 180))),)))
    assert plane.black_source == BlackSource.METADATA
    assert plane.masked_black_dn is None


def test_a_border_too_far_off_to_be_black_is_noted_and_not_used() -> None:
    plane = only_plane(flat(masked=(area(values((24, 180), 3000.0)),)))
    assert (plane.black_dn, plane.black_source) == (BLACK_DN, "metadata")
    assert "too far to be black" in said(plane.remarks)


@pytest.mark.parametrize("level", [BLACK_DN, 2048.0, 4000.0])
def test_a_file_that_claims_no_black_gets_it_from_the_border(level: float) -> None:
    unclaimed = BlackLevels(np.zeros((1, 1)))
    plane = only_plane(flat(black=unclaimed, masked=(border_of((24, 180), black=level),)))
    assert plane.black_source == BlackSource.MASKED_BORDER
    assert plane.black_dn == pytest.approx(level, abs=0.2)


def test_a_border_beyond_a_quarter_of_the_range_is_no_black_for_such_a_file_either() -> None:
    unclaimed = BlackLevels(np.zeros((1, 1)))
    plane = only_plane(flat(black=unclaimed, masked=(border_of((24, 180), black=4200.0),)))
    assert (plane.black_dn, plane.black_source) == (0.0, "metadata")


def test_borders_that_contradict_each_other_widen_the_error_and_the_file_stands() -> None:
    above = border_of((24, 180))
    beside = MaskedArea(area(values((120, 36), BLACK_DN + 4)).pixels, 0, -36)
    plane = only_plane(flat(masked=(above, beside)))
    assert plane.masked_black_dn == pytest.approx(BLACK_DN + 2, abs=0.2)
    assert plane.masked_black_error_dn == pytest.approx(2.0 / 2**0.5, rel=0.1)
    assert plane.black_source == BlackSource.METADATA


def test_each_plane_has_the_mean_of_its_own_places_in_a_larger_pattern() -> None:
    pattern = np.arange(16, dtype=np.float64).reshape(4, 4) + 500.0
    mosaic = mosaic_of(np.full(SHAPE, 600), RGGB, black=BlackLevels(pattern))
    blacks = [plane.black_dn for plane in measured(mosaic).planes]
    wanted = [pattern[y::2, x::2].mean() for y, x in ((0, 0), (0, 1), (1, 0), (1, 1))]
    assert blacks == pytest.approx(wanted)


def test_tiles_take_off_the_black_of_each_place_row_and_column() -> None:
    rng = np.random.default_rng(5)
    pattern, rows, cols = (
        rng.uniform(480, 540, (6, 5)),
        rng.normal(0, 3, 120),
        rng.normal(0, 3, 180),
    )
    black = np.tile(pattern, (20, 36)) + rows[:, None] + cols[None, :]
    mosaic = mosaic_of(np.rint(black + 1000.0), RGGB, black=BlackLevels(pattern, rows, cols))
    found = measured(mosaic)
    assert np.abs(found.maps.mean_dn - 1000.0).max() < 0.3
    wanted = [black[y::2, x::2].mean() for y, x in ((0, 0), (0, 1), (1, 0), (1, 1))]
    assert [plane.black_dn for plane in found.planes] == pytest.approx(wanted, abs=1e-6)


@pytest.mark.parametrize("size", [(24, 180), (600, 180)])
def test_what_is_added_per_row_and_column_is_no_offset_of_the_border(size: tuple[int, int]) -> None:
    # A border as the file claims it: pattern, 5 DN for even rows and 9 for odd, 2 DN a column.
    lines = BlackLevels(np.full((1, 1), 500.0), np.tile([5.0, 9.0], 60), np.full(180, 2.0))
    rows = np.tile([5.0, 9.0], size[0] // 2)[:, None]
    border = area(values(size, 502.0) + rows)
    found = measured(mosaic_of(np.full(SHAPE, 600), RGGB, black=lines, masked=(border,)))
    for plane, wanted in zip(found.planes, (507.0, 507.0, 511.0, 511.0), strict=True):
        assert plane.black_source == BlackSource.METADATA
        assert plane.black_dn == pytest.approx(wanted)
        assert plane.masked_black_dn == pytest.approx(wanted, abs=0.2)


def test_each_row_of_a_border_beside_the_picture_has_its_own_black() -> None:
    added = np.linspace(-6.0, 14.0, SHAPE[0])
    pixels = values((SHAPE[0], 24), BLACK_DN) + added[:, None]
    beside = MaskedArea(np.rint(pixels).astype(np.uint16), 0, -24)
    lines = BlackLevels(np.full((1, 1), BLACK_DN), added)
    plane = only_plane(flat(black=lines, masked=(beside,)))
    assert plane.black_source == BlackSource.METADATA
    assert plane.noise.read_noise_dn == pytest.approx((4 + 1 / 12) ** 0.5, rel=0.05)
    assert plane.masked_black_error_dn is not None
    assert plane.masked_black_error_dn < 0.2


def test_the_border_is_read_by_the_planes_of_its_own_places() -> None:
    pixels = np.tile(np.array([[510.0, 514.0], [518.0, 522.0]]), (12, 90))
    noise = 2.0 * np.random.default_rng(2).standard_normal(pixels.shape)
    border = replace(area(pixels + noise), top=-23)
    mosaic = mosaic_of(np.full(SHAPE, 600), RGGB, masked=(border,))
    blacks = [plane.masked_black_dn for plane in measured(mosaic).planes]
    assert blacks == pytest.approx([518.0, 522.0, 510.0, 514.0], abs=0.3)
