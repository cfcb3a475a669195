"""Colour patterns and margins: every plane finds its own pixels.

Source: DNG 1.7, CFARepeatPatternDim (33421) and CFAPattern (33422) count from the top left of
ActiveArea (50829).
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import tifffile
from numpy.typing import NDArray

from auditor.model.codes import Layout
from auditor.model.mosaic import Mosaic
from tests.built_dng import (
    ACTIVE,
    LONG,
    RGGB,
    WHITE,
    XTRANS,
    common_tags,
    extra,
    flat,
    mosaic_of,
    opened,
    write_dng,
)

HEIGHT, WIDTH = 60, 72
CODES = {0: 1000, 1: 2000, 2: 3000}
ORDERS = {
    "RGGB": ((0, 1), (1, 2)),
    "BGGR": ((2, 1), (1, 0)),
    "GRBG": ((1, 0), (2, 1)),
    "GBRG": ((1, 2), (0, 1)),
}
MARGINS = [(0, 0), (4, 8), (12, 18), (14, 20), (3, 5), (5, 2), (8, 7)]


def painted(pattern: tuple[tuple[int, ...], ...], top: int, left: int) -> NDArray[np.uint16]:
    """Give each pixel the code of its colour, the pattern beginning at the active corner."""
    cells = np.array(pattern)
    rows = (np.arange(HEIGHT) - top) % cells.shape[0]
    cols = (np.arange(WIDTH) - left) % cells.shape[1]
    codes: NDArray[np.uint16] = np.vectorize(CODES.get)(cells[np.ix_(rows, cols)]).astype(np.uint16)
    return codes


def plane_values(mosaic: Mosaic) -> dict[str, set[int]]:
    rows, cols = mosaic.pattern.shape
    whole = np.tile(mosaic.pattern, (-(-mosaic.height // rows), -(-mosaic.width // cols)))
    planes = whole[: mosaic.height, : mosaic.width]
    return {
        name: {int(value) for value in np.unique(mosaic.pixels[planes == index])}
        for index, name in enumerate(mosaic.plane_names)
    }


def painted_file(path: Path, pattern: tuple[tuple[int, ...], ...], top: int, left: int) -> Mosaic:
    stored = painted(pattern, top, left)
    active = (ACTIVE, LONG, (top, left, HEIGHT, WIDTH))
    return mosaic_of(write_dng(path, stored, active, (WHITE, LONG, 4095), pattern=pattern))


@pytest.mark.parametrize(("top", "left"), MARGINS)
@pytest.mark.parametrize("order", ORDERS)
def test_bayer_planes_find_their_pixels(tmp_path: Path, order: str, top: int, left: int) -> None:
    mosaic = painted_file(tmp_path / "a.dng", ORDERS[order], top, left)
    assert mosaic.layout is Layout.BAYER
    assert plane_values(mosaic) == {"R": {1000}, "G1": {2000}, "G2": {2000}, "B": {3000}}


@pytest.mark.parametrize("order", ORDERS)
def test_g1_shares_its_rows_with_red_and_g2_with_blue(tmp_path: Path, order: str) -> None:
    pattern = painted_file(tmp_path / "a.dng", ORDERS[order], 0, 0).pattern
    assert {frozenset(int(plane) for plane in row) for row in pattern} == {
        frozenset({0, 1}),
        frozenset({2, 3}),
    }


@pytest.mark.parametrize(("top", "left"), MARGINS)
def test_xtrans_planes_find_their_pixels(tmp_path: Path, top: int, left: int) -> None:
    # with margins over 6 the decoder's ready-made pattern is out of bounds
    mosaic = painted_file(tmp_path / "a.dng", XTRANS, top, left)
    assert mosaic.layout is Layout.XTRANS
    assert plane_values(mosaic) == {"R": {1000}, "G": {2000}, "B": {3000}}


def test_all_pixels_belong_to_a_plane(tmp_path: Path) -> None:
    mosaic = painted_file(tmp_path / "a.dng", XTRANS, 12, 18)
    assert sum(mosaic.plane_pixels()) == mosaic.width * mosaic.height == 48 * 54


def test_monochrome_is_one_plane(tmp_path: Path) -> None:
    mosaic = mosaic_of(write_dng(tmp_path / "a.dng", flat(), pattern=None))
    assert (mosaic.layout, mosaic.plane_names) == (Layout.MONO, ("L",))
    assert mosaic.pixels.tolist() == flat().tolist()


def test_linear_data_are_three_planes_and_no_fourth(tmp_path: Path) -> None:
    stored = np.stack([flat(dn=dn) for dn in (1000, 2000, 3000)], axis=2)
    mosaic = mosaic_of(write_dng(tmp_path / "a.dng", stored, pattern=None))
    assert (mosaic.layout, mosaic.plane_names) == (Layout.LINEAR, ("R", "G", "B"))
    assert mosaic.pixels.tolist() == stored.tolist()


def test_the_raw_picture_is_found_in_a_sub_directory(tmp_path: Path) -> None:
    path = tmp_path / "a.dng"
    with tifffile.TiffWriter(path) as writer:
        first = [extra(*tag) for tag in common_tags(None)]
        preview = np.zeros((16, 24, 3), dtype=np.uint8)
        writer.write(
            preview, photometric="RGB", subfiletype=1, subifds=1, extratags=first, metadata=None
        )
        raw = [extra(tag, kind, value) for tag, kind, value in common_tags(RGGB) if tag >= 33421]
        raw += [extra(WHITE, LONG, 4095), extra(ACTIVE, LONG, (4, 8, 48, 64))]
        writer.write(flat(), photometric="CFA", subfiletype=0, extratags=raw, metadata=None)
    mosaic = mosaic_of(path)
    assert mosaic.white_dn == (4095.0,) * 4
    assert (mosaic.height, mosaic.width) == (44, 56)


def test_pixels_cannot_be_written_to(tmp_path: Path) -> None:
    frame = opened(write_dng(tmp_path / "a.dng", flat()))
    with pytest.raises(ValueError, match="read-only"):
        frame.mosaic.pixels[0, 0] = 1
