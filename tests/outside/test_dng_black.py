"""Black level tags as the DNG specification 1.7 defines them, each in a small file of its own.

Source: DNG 1.7, "Mapping Raw Values to Linear Reference Values", tags BlackLevelRepeatDim (50713),
BlackLevel (50714), BlackLevelDeltaH (50715), BlackLevelDeltaV (50716), ActiveArea (50829) and
MaskedAreas (50830). What the decoder makes of them (in the comments) was seen by running it.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tests.built_dng import (
    ACTIVE,
    BLACK,
    BLACK_DIM,
    BLACK_H,
    BLACK_V,
    LONG,
    MASKED,
    RATIONAL,
    SHORT,
    SRATIONAL,
    WHITE,
    flat,
    mosaic_of,
    opened,
    write_dng,
)
from tests.told import said

HEIGHT, WIDTH = 48, 64


def test_black_is_zero_where_the_tag_is_absent(tmp_path: Path) -> None:
    mosaic = mosaic_of(write_dng(tmp_path / "a.dng", flat()))
    assert mosaic.black.pattern_dn.tolist() == [[0.0]]


@pytest.mark.parametrize("dim", [(1, 1), (1, 2), (2, 1), (2, 2), (4, 4), (6, 6), (3, 5)])
def test_each_place_of_the_pattern_keeps_its_level(tmp_path: Path, dim: tuple[int, int]) -> None:
    # the decoder keeps patterns up to 2 x 2 and gives the least level for larger ones
    levels = 500 + np.arange(dim[0] * dim[1])
    mosaic = mosaic_of(
        write_dng(
            tmp_path / "a.dng", flat(), (BLACK_DIM, SHORT, dim), (BLACK, SHORT, levels.tolist())
        )
    )
    assert mosaic.black.pattern_dn.tolist() == levels.reshape(dim).tolist()


def test_published_case_of_a_2_by_2_pattern(tmp_path: Path) -> None:
    # 510/512/514/516 of white 16383: the worked case gives 0.00012605 and 0.0002521
    stored = flat()
    stored[0, :2] = 512, 516
    mosaic = mosaic_of(
        write_dng(
            tmp_path / "a.dng",
            stored,
            (BLACK_DIM, SHORT, (2, 2)),
            (BLACK, SHORT, (510, 512, 514, 516)),
            (WHITE, LONG, 16383),
        )
    )
    black = mosaic.black.pattern_dn
    linear = (mosaic.pixels[0, :2] - black[0]) / (mosaic.white_dn[0] - black.max())
    assert linear == pytest.approx([0.00012605, 0.0002521], rel=2e-5)


def test_rational_levels_are_not_truncated(tmp_path: Path) -> None:
    # the decoder gives 512
    mosaic = mosaic_of(write_dng(tmp_path / "a.dng", flat(), (BLACK, RATIONAL, 512.5)))
    assert mosaic.black.pattern_dn.tolist() == [[512.5]]


def test_rows_and_columns_have_levels_of_their_own(tmp_path: Path) -> None:
    # the decoder adds one rounded mean of both
    across = np.linspace(0, 3, WIDTH)
    down = np.linspace(-1, 2, HEIGHT)
    mosaic = mosaic_of(
        write_dng(
            tmp_path / "a.dng",
            flat(),
            (BLACK, SHORT, 512),
            (BLACK_H, SRATIONAL, across),
            (BLACK_V, SRATIONAL, down),
        )
    )
    assert mosaic.black.pattern_dn.tolist() == [[512.0]]
    assert mosaic.black.column_dn == pytest.approx(across, abs=1e-6)
    assert mosaic.black.row_dn == pytest.approx(down, abs=1e-6)


def test_levels_count_from_the_active_area_not_from_the_stored_corner(tmp_path: Path) -> None:
    levels = (500 + np.arange(16)).tolist()
    active = (4, 6, HEIGHT, WIDTH)
    across = np.linspace(0, 3, WIDTH - 6)
    mosaic = mosaic_of(
        write_dng(
            tmp_path / "a.dng",
            flat(),
            (BLACK_DIM, SHORT, (4, 4)),
            (BLACK, SHORT, levels),
            (BLACK_H, SRATIONAL, across),
            (ACTIVE, LONG, active),
        )
    )
    assert (mosaic.height, mosaic.width) == (HEIGHT - 4, WIDTH - 6)
    assert mosaic.black.pattern_dn.ravel().tolist() == levels
    assert mosaic.black.column_dn == pytest.approx(across, abs=1e-6)


def test_levels_follow_when_the_decoder_moves_an_odd_active_area(tmp_path: Path) -> None:
    # (3, 5) becomes margins (4, 6): the first visible place is the pattern's (1, 1)
    levels = (500 + np.arange(16)).reshape(4, 4)
    down = np.arange(HEIGHT - 3, dtype=float)
    path = write_dng(
        tmp_path / "a.dng",
        flat(),
        (BLACK_DIM, SHORT, (4, 4)),
        (BLACK, SHORT, levels.ravel().tolist()),
        (BLACK_V, SRATIONAL, down),
        (ACTIVE, LONG, (3, 5, HEIGHT, WIDTH)),
    )
    frame = opened(path)
    top, left = frame._decoded.top, frame._decoded.left
    mosaic = frame.mosaic
    moved = np.roll(levels, (3 - top, 5 - left), (0, 1))
    assert mosaic.black.pattern_dn.tolist() == moved.tolist()
    assert mosaic.black.row_dn is not None
    assert mosaic.black.row_dn.tolist() == down[top - 3 : top - 3 + mosaic.height].tolist()


def masked_file(path: Path, masked_dn: tuple[int, int]) -> Path:
    stored = flat(dn=2000)
    stored[:, :8] = masked_dn[0]
    stored[1::2, :8] = masked_dn[1]
    return write_dng(
        path,
        stored,
        (BLACK, SHORT, 512),
        (ACTIVE, LONG, (0, 8, HEIGHT, WIDTH)),
        (MASKED, LONG, (0, 0, HEIGHT, 8)),
    )


@pytest.mark.parametrize("masked_dn", [(600, 604), (0, 0)])
def test_the_tag_stands_beside_masked_pixels_that_say_otherwise(
    tmp_path: Path, masked_dn: tuple[int, int]
) -> None:
    # the decoder gives 600, 600, 604, 604 for the first and 512 for the second
    mosaic = mosaic_of(masked_file(tmp_path / "a.dng", masked_dn))
    assert mosaic.black.pattern_dn.tolist() == [[512.0]]
    (area,) = mosaic.masked
    assert (area.top, area.left, area.pixels.shape) == (0, -8, (HEIGHT, 8))
    assert set(np.unique(area.pixels)) == set(masked_dn)


def test_several_masked_areas_stay_apart(tmp_path: Path) -> None:
    # the decoder pools 600 and 900 into 750
    stored = flat(dn=2000)
    stored[:, :8], stored[:4, 8:] = 600, 900
    path = write_dng(
        tmp_path / "a.dng",
        stored,
        (BLACK, SHORT, 512),
        (ACTIVE, LONG, (4, 8, HEIGHT, WIDTH)),
        (MASKED, LONG, (0, 0, HEIGHT, 8, 0, 8, 4, WIDTH)),
    )
    areas = mosaic_of(path).masked
    assert [(a.top, a.left, int(a.pixels.mean())) for a in areas] == [(-4, -8, 600), (-4, 0, 900)]


def test_a_masked_area_within_the_picture_is_left_out_and_told(tmp_path: Path) -> None:
    path = write_dng(
        tmp_path / "a.dng", flat(), (BLACK, SHORT, 512), (MASKED, LONG, (0, 0, HEIGHT, 8))
    )
    frame = opened(path)
    assert frame.mosaic.masked == ()
    assert "reaches into the picture" in said(frame.remarks)


def test_levels_of_linear_data_are_one_a_sample(tmp_path: Path) -> None:
    stored = np.stack([flat(), flat(), flat()], axis=2)
    path = write_dng(tmp_path / "a.dng", stored, (BLACK, SHORT, (510, 512, 514)), pattern=None)
    assert mosaic_of(path).black.pattern_dn.tolist() == [[[510.0, 512.0, 514.0]]]


def test_levels_that_do_not_fit_their_pattern_are_told_and_left_to_the_decoder(
    tmp_path: Path,
) -> None:
    path = write_dng(
        tmp_path / "a.dng", flat(), (BLACK_DIM, SHORT, (4, 4)), (BLACK, SHORT, (500, 501, 502))
    )
    frame = opened(path)
    assert frame.mosaic.black.pattern_dn.shape == (2, 2)
    assert "does not fit its pattern" in said(frame.remarks)
