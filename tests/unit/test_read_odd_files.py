"""Odd files: pixels that are not square, a damaged colour pattern, proxies.

Sources: DNG 1.7, DefaultScale (50718), OriginalDefaultFinalSize (51089); the pixel shape of the old
compact is LibRaw's.
"""

from __future__ import annotations

import io
import struct
from pathlib import Path

import numpy as np
import pytest
import rawpy
from PIL import Image

from auditor.examine import examine_file
from auditor.model.errors import UnreadableFile
from auditor.model.facts import FileFacts
from auditor.model.remark import RemarkCode
from auditor.model.settings import MeasureSettings
from auditor.read.raw import read_raw
from auditor.task import ExamineTask
from tests.built_dng import LONG, RATIONAL, flat, opened, write_dng
from tests.real_files import HERE, real_file
from tests.told import said

SCALE, ORIGINAL_SIZE = 50718, 51089


def test_a_dng_tells_the_shape_of_its_pixels_as_libraw_does(tmp_path: Path) -> None:
    path = write_dng(tmp_path / "a.dng", flat(), (SCALE, RATIONAL, (1.5, 1.0)))
    frame = opened(path)
    assert frame.mosaic.pixel_aspect == pytest.approx(1.5)
    assert "1.5 times as wide as it is high" in said(frame.remarks)
    with rawpy.imread(str(path)) as raw:
        assert raw.sizes.pixel_aspect == pytest.approx(1.5)


def test_square_pixels_take_no_note(tmp_path: Path) -> None:
    frame = opened(write_dng(tmp_path / "a.dng", flat()))
    assert frame.mosaic.pixel_aspect == 1.0
    assert frame.remarks == ()


def test_pictures_of_long_pixels_are_drawn_in_their_true_shape() -> None:
    path = str(HERE / "compact-1997.kdc")
    measured = examine_file(ExamineTask(path, "tiff", MeasureSettings()))
    assert measured.mosaic.width / measured.mosaic.height == pytest.approx(848 / 976)
    with Image.open(io.BytesIO(measured.pictures.thumb)) as thumb:
        assert thumb.width / thumb.height == pytest.approx(4 / 3, rel=0.01)
    assert measured.preview is not None
    assert RemarkCode.OTHER_SECTION not in {one.code for one in measured.preview.remarks}


@pytest.mark.parametrize(
    ("pattern", "planes"),
    [
        (((0, 1), (1, 0)), [[0, 1], [2, 3]]),
        (((1, 0), (0, 1)), [[1, 0], [3, 2]]),
        (((2, 1), (1, 2)), [[3, 2], [1, 0]]),
    ],
)
def test_a_colour_named_twice_is_parted_and_told(
    tmp_path: Path, pattern: tuple[tuple[int, int], ...], planes: list[list[int]]
) -> None:
    frame = opened(write_dng(tmp_path / "a.dng", flat(), pattern=pattern))
    assert frame.mosaic.pattern.tolist() == planes
    assert "red and blue may be exchanged" in said(frame.remarks)


def test_a_proxy_says_that_it_is_one(tmp_path: Path) -> None:
    path = write_dng(tmp_path / "a.dng", flat(48, 64), (ORIGINAL_SIZE, LONG, (640, 480)))
    assert "made smaller from 640 × 480 pixels" in said(opened(path).remarks)
    path = write_dng(tmp_path / "b.dng", flat(48, 64), (ORIGINAL_SIZE, LONG, (64, 48)))
    assert opened(path).remarks == ()


def test_a_real_proxy_says_that_it_is_one() -> None:
    frame = opened(real_file("linear-lossy.dng"))
    assert "made smaller from 5568 × 3712 pixels" in said(frame.remarks)
    assert np.ptp(frame.mosaic.pixels) > 0


def placed(path: Path, tag: int, *, first: int | None = None, count: int | None = None) -> bytes:
    """A DNG of four plain strips whose second offset, or the count of all, says something else."""
    values = np.random.default_rng(1).integers(500, 4000, (64, 96)).astype(np.uint16)
    content = bytearray(write_dng(path, values, rowsperstrip=16).read_bytes())
    (begin,) = struct.unpack_from("<I", content, 4)
    (tags,) = struct.unpack_from("<H", content, begin)
    (entry,) = (
        place
        for place in range(begin + 2, begin + 2 + 12 * tags, 12)
        if struct.unpack_from("<H", content, place)[0] == tag
    )
    if count is not None:
        struct.pack_into("<I", content, entry + 4, count)
    if first is not None:
        (listed,) = struct.unpack_from("<I", content, entry + 8)
        (before,) = struct.unpack_from("<I", content, listed)
        struct.pack_into("<I", content, listed + 4, first if first >= 0 else before - first - 1)
    return bytes(content)


@pytest.mark.parametrize(
    ("first", "count"),
    [(0, None), (7, None), (30, None), (-1, None), (-513, None), (None, 0), (None, 1), (None, 3)],
)
def test_pixels_that_lie_in_the_header_or_on_others_are_refused(
    tmp_path: Path, first: int | None, count: int | None
) -> None:
    """In the first bytes, on a tag, on the strip before, in a part of it; or some are missing."""
    with pytest.raises(UnreadableFile) as refused:
        read_raw(placed(tmp_path / "a.dng", 273, first=first, count=count), "dng", FileFacts())
    assert refused.value.code == "damaged"
