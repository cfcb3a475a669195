"""Margins that behave like masked pixels, and margins that do not."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from auditor.model.mosaic import BlackLevels, MaskedArea
from auditor.model.remark import Remark, RemarkCode, remark
from auditor.read.decoded import Decoded
from auditor.read.masked import masked_areas

BLACK_DN, WHITE_DN = 512.0, 16383.0
TOP, LEFT, HEIGHT, WIDTH = 20, 40, 200, 300


def stored(noise_dn: float = 3.0) -> NDArray[np.uint16]:
    """A bright picture with a masked border on the left and above."""
    rng = np.random.default_rng(4)
    whole = rng.normal(BLACK_DN, noise_dn, (TOP + HEIGHT, LEFT + WIDTH))
    whole[TOP:, LEFT:] += 4000
    return np.rint(whole).clip(0).astype(np.uint16)


def areas_of(pixels: NDArray[np.uint16]) -> tuple[tuple[MaskedArea, ...], list[Remark]]:
    decoded = Decoded(pixels, TOP, LEFT, HEIGHT, WIDTH, None, "RGBG", 3, (BLACK_DN,) * 4, WHITE_DN)
    notes: list[Remark] = []
    black = BlackLevels(np.full((2, 2), BLACK_DN))
    return masked_areas(decoded, None, black, WHITE_DN, notes), notes


def test_true_masked_pixels_are_kept_but_for_the_lines_next_to_the_picture() -> None:
    areas, notes = areas_of(stored())
    assert [(a.top, a.left, a.pixels.shape) for a in areas] == [
        (0, -LEFT, (HEIGHT, LEFT - 2)),
        (-TOP, 0, (TOP - 2, WIDTH)),
    ]
    assert notes == []
    assert float(areas[0].pixels.mean()) == pytest.approx(BLACK_DN, abs=0.1)


def test_a_black_level_that_has_drifted_is_kept() -> None:
    # a warm sensor: the border tells what the tag does not
    areas, _ = areas_of(stored() + 9)
    assert float(areas[0].pixels.mean()) == pytest.approx(BLACK_DN + 9, abs=0.1)


@pytest.mark.parametrize("junk", [0, 512, 4000])
def test_constant_margins_are_left_out(junk: int) -> None:
    pixels = stored()
    pixels[:, :LEFT] = junk
    areas, notes = areas_of(pixels)
    assert [a.top for a in areas] == [-TOP]
    assert notes == [remark(RemarkCode.MARGIN_UNUSED, margin="left")]


def test_lit_margins_are_left_out() -> None:
    pixels = stored()
    pixels[:, :LEFT] += 3000
    assert [a.top for a in areas_of(pixels)[0]] == [-TOP]


def test_a_test_pattern_is_left_out() -> None:
    pixels = stored()
    pixels[TOP:, :LEFT] = np.where(np.arange(HEIGHT)[:, None] % 2, 100, 924)
    assert [a.top for a in areas_of(pixels)[0]] == [-TOP]


def test_the_sound_part_of_a_margin_is_kept() -> None:
    pixels = stored()
    pixels[:, :6] = 0
    pixels[:, 30:LEFT] += 800
    (left, _), _ = areas_of(pixels)
    assert (left.left, left.pixels.shape[1]) == (6 - LEFT, 24)


def test_copies_outlive_the_picture() -> None:
    pixels = stored()
    areas, _ = areas_of(pixels)
    before = areas[0].pixels.copy()
    pixels[:] = 0
    assert np.array_equal(areas[0].pixels, before)
