"""Previews of which a card lost a cluster: told by the rules of the format itself."""

from __future__ import annotations

import io
from typing import Any

import numpy as np
import pytest
from PIL import Image

from auditor.read.jpeg_scan import LONGEST_FILL, LONGEST_ZEROS, scan_is_broken

SIZE = (900, 600)


def jpeg(seed: int = 1, **options: Any) -> bytes:
    rng = np.random.default_rng(seed)
    small = rng.integers(0, 256, (30, 45, 3)).astype(np.uint8)
    stream = io.BytesIO()
    picture = Image.fromarray(small).resize(SIZE, Image.Resampling.BICUBIC)
    picture.save(stream, "JPEG", **{"quality": 90} | options)
    return stream.getvalue()


def even(level: int, **options: Any) -> bytes:
    stream = io.BytesIO()
    Image.new("RGB", SIZE, (level,) * 3).save(stream, "JPEG", **options)
    return stream.getvalue()


def without(content: bytes, piece: bytes) -> bytes:
    begin = len(content) // 1024 * 512
    return content[:begin] + piece + content[begin + len(piece) :]


@pytest.mark.parametrize("level", [0, 128, 255])
@pytest.mark.parametrize("options", [{}, {"optimize": True}, {"progressive": True}])
def test_sound_even_pictures_are_not_broken(level: int, options: dict[str, Any]) -> None:
    assert not scan_is_broken(even(level, **options))


@pytest.mark.parametrize(
    "options", [{}, {"optimize": True}, {"progressive": True}, {"restart_marker_rows": 1}]
)
def test_sound_pictures_are_not_broken(options: dict[str, Any]) -> None:
    assert not any(scan_is_broken(jpeg(seed, **options)) for seed in range(8))


def test_a_cluster_lost_to_zeros_to_ones_or_to_another_file_is_told() -> None:
    rng = np.random.default_rng(4)
    for seed in range(12):
        content = jpeg(seed)
        assert scan_is_broken(without(content, bytes(4096)))
        assert scan_is_broken(without(content, b"\xff" * 4096))
        assert scan_is_broken(without(content, rng.bytes(8192)))


def test_a_picture_cut_off_is_told() -> None:
    content = jpeg()
    assert scan_is_broken(content[: len(content) // 2])


def test_restart_markers_out_of_turn_are_told() -> None:
    content = jpeg(restart_marker_rows=1)
    second = content.index(b"\xff\xd1")
    assert scan_is_broken(content[:second] + b"\xff\xd4" + content[second + 2 :])


def test_a_few_zeros_and_fill_bytes_are_allowed() -> None:
    content = jpeg()
    assert not scan_is_broken(without(content, b"\x01" + bytes(LONGEST_ZEROS * 2 // 3) + b"\x01"))
    assert not scan_is_broken(content[:-2] + b"\xff" * (LONGEST_FILL * 2 // 3) + b"\xff\xd9")
    assert scan_is_broken(content[:-2] + b"\xff" * (LONGEST_FILL * 4 // 3 + 2) + b"\xff\xd9")


@pytest.mark.parametrize("content", [b"", b"\xff\xd8", b"\xff\xd8\xff\xda\0\0", b"no JPEG"])
def test_what_is_no_picture_is_not_told_here(content: bytes) -> None:
    assert not scan_is_broken(content)
