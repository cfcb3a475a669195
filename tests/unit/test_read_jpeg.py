"""Previews of which a card lost a cluster: told by the rules of the format itself."""

from __future__ import annotations

import io
from typing import Any

import numpy as np
import pytest
from PIL import Image

from auditor.read.jpeg import LONGEST_FILL, LONGEST_ZEROS, grown_scan, scan_is_broken
from auditor.read.preview import jpeg_preview

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


WRITTEN: list[dict[str, Any]] = [
    {}, {"optimize": True}, {"subsampling": 0}, {"subsampling": 1}, {"quality": 30},
    {"restart_marker_rows": 1}, {"restart_marker_blocks": 7},
]  # fmt: skip


@pytest.mark.parametrize("longest_px", [150, 450, 2000])
@pytest.mark.parametrize("options", [*WRITTEN, {"progressive": True}])
def test_a_sound_preview_is_shown_as_it_is(options: dict[str, Any], longest_px: int) -> None:
    contents = [jpeg(seed, **options) for seed in range(3)]
    contents += [even(level, **options) for level in (0, 127, 128, 129, 255)]
    for content in contents:
        preview = jpeg_preview(content, longest_px)
        assert not preview.broken
        assert (preview.width, preview.height) == SIZE
        with Image.open(io.BytesIO(content)) as picture:
            picture.draft("RGB", (longest_px, 2 * longest_px // 3))
            plain = picture.resize(preview.pixels.shape[1::-1], Image.Resampling.BOX)
        off = np.abs(preview.pixels.astype(int) - np.asarray(plain))
        assert off[:-1].max() == 0
        assert off.max() <= 3, "the last row takes colours from the row behind it"


def test_a_preview_that_ends_in_even_grey_is_sound() -> None:
    picture = Image.open(io.BytesIO(jpeg()))
    picture.paste((128, 128, 128), (0, 300, *SIZE))
    stream = io.BytesIO()
    picture.save(stream, "JPEG")
    assert not jpeg_preview(stream.getvalue(), 450).broken


def test_of_previews_with_a_cluster_of_another_preview_most_are_told() -> None:
    told = {}
    for number, options in enumerate(WRITTEN):
        for seed in range(10):
            content, other = jpeg(seed, **options), jpeg(seed + 50, **options)
            begin, taken = len(content) // 2 + 100 * seed, len(other) // 3
            spoilt = content[:begin] + other[taken : taken + 4096] + content[begin + 4096 :]
            told[number, seed] = jpeg_preview(spoilt, 450).broken
    assert sum(told.values()) >= 0.8 * len(told), told


@pytest.mark.parametrize("lost", [4096, 20_000])
def test_a_preview_whose_data_end_early_or_go_on_is_told(lost: int) -> None:
    content = jpeg()
    begin = len(content) // 2
    short = content[:begin] + content[begin + lost :]
    long = content[: begin + lost] + content[begin:]
    assert jpeg_preview(short, 450).broken
    assert jpeg_preview(long, 450).broken


def test_only_a_baseline_preview_in_colours_is_asked_for_more() -> None:
    assert grown_scan(jpeg()) is not None
    assert grown_scan(jpeg(progressive=True)) is None
    assert grown_scan(b"\xff\xd8") is None
    grey = io.BytesIO()
    Image.new("L", SIZE, 77).save(grey, "JPEG")
    assert grown_scan(grey.getvalue()) is None
    assert not jpeg_preview(grey.getvalue(), 450).broken


@pytest.mark.parametrize("content", [b"", b"\xff\xd8", b"\xff\xd8\xff\xda\0\0", b"no JPEG"])
def test_what_is_no_picture_is_not_told_here(content: bytes) -> None:
    assert not scan_is_broken(content)
