"""Levels and patterns of files that are no DNG: the decoder's answers, each by its own place."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from auditor.model.codes import Layout
from auditor.model.errors import UnreadableFile
from auditor.model.mosaic import Mosaic
from auditor.read.decoded import Decoded
from auditor.read.mosaic import build_mosaic
from tests.built_dng import XTRANS

# the decoder's colour numbers: 0 R, 1 G, 2 B, 3 the second G
BAYER = ((0, 1), (3, 2))
LEVELS = (500.0, 510.0, 520.0, 530.0)


def decoded(colours: Any, shape: tuple[int, ...] = (48, 60), **changes: Any) -> Decoded:
    cells = None if colours is None else np.array(colours, dtype=np.uint8)
    block: NDArray[np.uint8] | None = None
    if cells is not None:
        block = np.tile(cells, (12 // cells.shape[0], 12 // cells.shape[1]))
    told: dict[str, Any] = {
        "stored": np.full(shape, 1000, dtype=np.uint16),
        "top": 0,
        "left": 0,
        "height": shape[0],
        "width": shape[1],
        "colours": block,
        "colour_letters": "RGBG",
        "colour_count": 3,
        "black_dn": LEVELS,
        "white_dn": 16383.0,
    }
    return Decoded(**{**told, **changes})


def built(found: Decoded, own_black: NDArray[np.float64] | None = None) -> Mosaic:
    return build_mosaic(found, None, [], white_balance={}, own_black=own_black)


def test_the_decoders_levels_go_by_colour_number_not_by_place() -> None:
    mosaic = built(decoded(BAYER, linear_limit_dn=(1.0, 2.0, 3.0, 4.0)))
    assert mosaic.black.pattern_dn.tolist() == [[500.0, 510.0], [530.0, 520.0]]
    assert mosaic.pattern.tolist() == [[0, 1], [2, 3]]
    # R, G1, G2, B
    assert mosaic.linear_limit_dn == (1.0, 2.0, 4.0, 3.0)


def test_greens_are_told_apart_by_their_rows_not_by_their_numbers() -> None:
    # here the second green's number stands in red's row
    mosaic = built(decoded(((2, 1), (3, 0))))
    assert mosaic.pattern.tolist() == [[3, 2], [1, 0]]
    assert mosaic.black.pattern_dn.tolist() == [[520.0, 510.0], [530.0, 500.0]]


def test_a_file_with_levels_of_its_own_keeps_each_place() -> None:
    own = np.arange(36, dtype=np.float64).reshape(6, 6) + 1000
    mosaic = built(decoded(XTRANS), own)
    assert mosaic.layout is Layout.XTRANS
    assert np.array_equal(mosaic.black.pattern_dn, own)


def test_levels_of_its_own_that_are_all_zero_are_none() -> None:
    mosaic = built(decoded(XTRANS), np.zeros((6, 6)))
    assert set(mosaic.black.pattern_dn.flat) == {500.0, 510.0, 520.0}


def test_monochrome_takes_the_first_level() -> None:
    mosaic = built(decoded([[6]], colour_count=1, colour_letters="GMCY"))
    assert (mosaic.layout, mosaic.black.pattern_dn.tolist()) == (Layout.MONO, [[500.0]])


def test_stacked_data_take_three_levels() -> None:
    mosaic = built(decoded(None, (48, 60, 3)))
    assert mosaic.layout is Layout.LINEAR
    assert mosaic.black.pattern_dn.tolist() == [[[500.0, 510.0, 520.0]]]


@pytest.mark.parametrize(
    ("colours", "letters"),
    [
        (((0, 1), (2, 3)), "GMCY"),
        (((0, 1), (3, 2)), "RGBE"),
        (((0, 1), (2, 1)), "RGBG"),
        (((1, 1), (0, 2)), "RGBG"),
        (np.arange(16).reshape(4, 4) % 3, "RGBG"),
        (np.full((6, 6), 1), "RGBG"),
        (((0, 7), (7, 2)), "RGBG"),
    ],
)
def test_colours_in_no_known_pattern_are_refused(colours: Any, letters: str) -> None:
    with pytest.raises(UnreadableFile) as caught:
        built(decoded(colours, colour_letters=letters))
    assert caught.value.code == "unsupported"
