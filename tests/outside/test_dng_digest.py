"""Digests of the raw picture after the DNG specification 1.7 (tags 50972 and 51111)."""

from __future__ import annotations

import hashlib
import struct
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from auditor.read.dng.decode import new_digest, old_digest
from sample_generation.digest import new_raw_image_digest, raw_image_digest
from tests.built_dng import BYTE, SHORT, TABLE, flat, opened, write_dng

OLD, NEW = 50972, 51111


def spelled_out(picture: NDArray[np.uint16]) -> bytes:
    """The specification's words in plain loops: tiles of 256, little-endian, digest of digests."""
    whole = b""
    for top in range(0, picture.shape[0], 256):
        for left in range(0, picture.shape[1], 256):
            tile = b""
            for y in range(top, min(top + 256, picture.shape[0])):
                row = picture[y, left : left + 256].tolist()
                tile += struct.pack(f"<{len(row)}H", *row)
            whole += hashlib.md5(tile, usedforsecurity=False).digest()
    return hashlib.md5(whole, usedforsecurity=False).digest()


def test_new_digest_is_one_of_tile_digests() -> None:
    picture = flat(300, 530)
    assert new_digest(picture) == spelled_out(picture)


@pytest.mark.parametrize("shape", [(300, 530), (256, 512), (40, 60, 3)])
def test_digests_agree_with_those_of_the_simulated_camera(shape: tuple[int, ...]) -> None:
    picture = np.random.default_rng(5).integers(0, 16384, shape, dtype=np.uint16)
    assert new_digest(picture) == bytes(new_raw_image_digest(picture))
    assert old_digest(picture) == bytes(raw_image_digest(picture))


@pytest.mark.parametrize("tag", [OLD, NEW])
def test_a_digest_tells_one_changed_pixel(tmp_path: Path, tag: int) -> None:
    stored = flat(300, 530)
    digest = old_digest(stored) if tag == OLD else new_digest(stored)
    spoilt = stored.copy()
    spoilt[299, 529] ^= 1
    for name, picture, holds in (("sound", stored, True), ("spoilt", spoilt, False)):
        frame = opened(write_dng(tmp_path / f"{name}.dng", picture, (tag, BYTE, digest)))
        assert frame.digest_holds() is holds


def test_there_is_no_answer_without_a_digest(tmp_path: Path) -> None:
    frame = opened(write_dng(tmp_path / "a.dng", flat()))
    assert frame.digest_holds() is None


def test_linearised_data_cannot_be_compared(tmp_path: Path) -> None:
    table = (TABLE, SHORT, list(range(2000)))
    path = write_dng(tmp_path / "a.dng", flat(), table, (NEW, BYTE, bytes(range(16))))
    frame = opened(path)
    assert frame.digest_holds() is None
