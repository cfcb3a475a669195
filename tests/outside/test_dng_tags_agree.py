"""The bounded TIFF reader against tifffile: the same values for every tag it reads."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

import numpy as np
import pytest
import tifffile

from auditor.read.tiff import open_tiff, source_of
from tests.built_dng import BLACK, BLACK_DIM, BLACK_H, NOISE, SRATIONAL, extra, flat, write_dng
from tests.real_files import real_file

NUMBERS = {3, 4, 8, 9, 11, 12, 13}
RATIOS = {5, 10}
FILES = ["compact-1996.kdc", "compact-1997.kdc", "full-frame.arw", "linear-lossy.dng",
         "truncated.nef", "opens-but-zeros.arw"]  # fmt: skip


def compare(path: Path) -> int:
    """Compare all directories that both know, by their offset; return how many tags agreed."""
    agreed = 0
    with tifffile.TiffFile(path) as file, path.open("rb") as stream:
        ours = open_tiff(source_of(stream))
        assert ours is not None
        for page in [file.pages[0], *(file.pages[0].pages or [])]:
            directory = ours.directory(page.offset)
            assert directory is not None
            for tag in page.tags:
                if tag.dtype in NUMBERS | RATIOS and not isinstance(tag.value, dict | str | bytes):
                    agreed += agree(directory.numbers(tag.code), tag)
    return agreed


def agree(found: tuple[float, ...], tag: tifffile.TiffTag) -> int:
    expected = np.ravel(np.array(tag.value, dtype=np.float64))
    if tag.dtype in RATIOS:
        if 0 in expected[1::2]:
            assert found == ()
            return 1
        expected = expected[::2] / expected[1::2]
    assert found == pytest.approx(expected.tolist()), tag.name
    return 1


@pytest.mark.parametrize("name", FILES)
def test_real_files_read_the_same(name: str) -> None:
    assert compare(real_file(name)) > 20


@pytest.mark.parametrize("order", ["<", ">"])
def test_both_byte_orders_read_the_same(tmp_path: Path, order: Literal["<", ">"]) -> None:
    path = tmp_path / "a.dng"
    tags = ((BLACK_DIM, 3, (4, 4)), (BLACK, 4, list(range(70_000, 70_016))),
            (BLACK_H, SRATIONAL, np.linspace(-2, 2, 64)), (NOISE, 12, (1e-5, 1e-9)))  # fmt: skip
    with tifffile.TiffWriter(path, byteorder=order) as writer:
        writer.write(flat(), photometric="MINISBLACK", extratags=[extra(*tag) for tag in tags])
    assert compare(path) > 10


def test_dng_writer_of_the_tests_reads_the_same(tmp_path: Path) -> None:
    assert compare(write_dng(tmp_path / "a.dng", flat())) > 10
