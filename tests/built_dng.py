"""Small DNG files written with tifffile, one tag at a time, and their reading."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path
from typing import Any, Literal

import numpy as np
import tifffile
from numpy.typing import NDArray

from auditor.model.mosaic import Mosaic
from auditor.read.exif import read_facts
from auditor.read.raw import RawFrame, read_raw
from sample_generation.tiff import Directory, tiff_bytes

BYTE, ASCII, SHORT, LONG, RATIONAL, SRATIONAL, DOUBLE = 1, 2, 3, 4, 5, 10, 12
BLACK_DIM, BLACK, BLACK_H, BLACK_V, WHITE = 50713, 50714, 50715, 50716, 50717
ACTIVE, MASKED, LIMIT, NOISE, TABLE, NEUTRAL = 50829, 50830, 50734, 51041, 50712, 50728

Tag = tuple[int, int, Any]
RGGB = ((0, 1), (1, 2))
XTRANS = (
    (1, 2, 1, 1, 0, 1),
    (0, 1, 0, 2, 1, 2),
    (1, 2, 1, 1, 0, 1),
    (1, 0, 1, 1, 2, 1),
    (2, 1, 2, 0, 1, 0),
    (1, 0, 1, 1, 2, 1),
)


def extra(tag: int, kind: int, values: Any) -> tuple[int, int, int, Any, bool]:
    """Make one tag as tifffile takes it; ratios may be given as floats."""
    if isinstance(values, str | bytes):
        return tag, kind, len(values), values, True
    listed = list(values) if isinstance(values, Sequence | np.ndarray) else [values]
    if kind in (RATIONAL, SRATIONAL):
        ratios = [Fraction(value).limit_denominator(10**6) for value in listed]
        flat = [part for ratio in ratios for part in ratio.as_integer_ratio()]
        return tag, kind, len(listed), tuple(flat), True
    return tag, kind, len(listed), tuple(listed) if len(listed) > 1 else listed[0], True


def common_tags(pattern: Sequence[Sequence[int]] | None) -> list[Tag]:
    tags: list[Tag] = [
        (271, ASCII, "Brackwell"),
        (272, ASCII, "Brackwell F45"),
        (50706, BYTE, bytes((1, 4, 0, 0))),
        (50708, ASCII, "Brackwell F45"),
        (50721, SRATIONAL, (1, 0, 0, 0, 1, 0, 0, 0, 1)),
    ]
    if pattern is not None:
        flat = bytes(code for row in pattern for code in row)
        tags += [(33421, SHORT, (len(pattern), len(pattern[0]))), (33422, BYTE, flat)]
    return tags


def write_dng(
    path: Path,
    stored: NDArray[Any],
    *tags: Tag,
    pattern: Sequence[Sequence[int]] | None = RGGB,
    byteorder: Literal["<", ">"] | None = None,
    **options: Any,
) -> Path:
    """Write an array as the only picture of a DNG; ``pattern`` None for linear data."""
    given = {tag[0] for tag in tags}
    every = [*(tag for tag in common_tags(pattern) if tag[0] not in given), *tags]
    mono = pattern is None and stored.ndim == 2
    with tifffile.TiffWriter(path, byteorder=byteorder) as writer:
        writer.write(
            stored,
            photometric="CFA" if pattern is not None else "MINISBLACK" if mono else "LINEAR_RAW",
            extratags=[extra(*tag) for tag in every],
            metadata=None,
            planarconfig="CONTIG" if stored.ndim == 3 else None,
            **options,
        )
    if mono:  # the writer knows no linear data of one sample
        with tifffile.TiffFile(path, mode="r+") as file:
            file.pages.first.tags[262].overwrite(34892)
    return path


def page_below(page: tifffile.TiffPage) -> tifffile.TiffPage:
    """The first of a directory's own directories."""
    assert page.pages is not None
    return page.pages.first


def opened(path: Path, kind: str = "dng") -> RawFrame:
    data = path.read_bytes()
    return read_raw(data, kind, read_facts(data, kind))


def mosaic_of(path: Path) -> Mosaic:
    frame = opened(path)
    return frame.mosaic


def flat(height: int = 48, width: int = 64, dn: int = 1000) -> NDArray[np.uint16]:
    """Nearly even data with a little texture."""
    texture = np.arange(height * width, dtype=np.uint16).reshape(height, width) % 7
    return (texture + dn).astype(np.uint16)


def chunked_dng(
    path: Path,
    chunks: Sequence[bytes],
    shape: tuple[int, ...],
    *tags: Tag,
    compression: int,
    bits: int = 16,
    tile: tuple[int, int] | None = None,
    strip_rows: int | None = None,
) -> Path:
    """Write compressed tiles or strips as the only picture of a DNG, byte for byte.

    ``shape`` is (height, width) for a mosaic, (height, width, 3) for linear data.
    """
    raw = Directory()
    samples = shape[2] if len(shape) == 3 else 1
    raw.put(254, LONG, 0)
    raw.put(256, LONG, shape[1])
    raw.put(257, LONG, shape[0])
    raw.put(258, SHORT, [bits] * samples)
    raw.put(259, SHORT, compression)
    raw.put(262, SHORT, 34892 if samples == 3 else 32803)
    raw.put(277, SHORT, samples)
    raw.put(284, SHORT, 1)
    raw.put(WHITE, LONG, [2**bits - 1] * samples)
    for tag, kind, value in common_tags(None if samples == 3 else RGGB):
        raw.put(tag, kind, value)
    places, lengths = (324, 325) if tile else (273, 279)
    if tile:
        raw.put(322, LONG, tile[1])
        raw.put(323, LONG, tile[0])
    else:
        raw.put(278, LONG, strip_rows or shape[0])
    raw.put(places, LONG, [0] * len(chunks))
    raw.put(lengths, LONG, [len(chunk) for chunk in chunks])
    for tag, kind, value in tags:
        raw.put(tag, kind, value)
    start = len(tiff_bytes(raw))
    offsets = start + np.cumsum([0, *(len(chunk) for chunk in chunks[:-1])])
    raw.put(places, LONG, [int(offset) for offset in offsets])
    path.write_bytes(tiff_bytes(raw) + b"".join(chunks))
    return path


def tiles_of(stored: NDArray[Any], height: int, width: int) -> list[NDArray[Any]]:
    """Cut a picture into whole tiles, its edge repeated where it ends."""
    down, across = -stored.shape[0] % height, -stored.shape[1] % width
    grown = np.pad(stored, ((0, down), (0, across), *[(0, 0)] * (stored.ndim - 2)), mode="edge")
    return [
        np.ascontiguousarray(grown[top : top + height, left : left + width])
        for top in range(0, grown.shape[0], height)
        for left in range(0, grown.shape[1], width)
    ]


def clipping_ramp(shape: tuple[int, int], seed: int) -> NDArray[np.uint16]:
    """Light that rises across the frame until it clips at 65,000 DN: a level is learnt from it."""
    light = np.linspace(500.0 + 10.0 * seed, 80_000.0, shape[1]) * np.ones((shape[0], 1))
    noisy = light + np.random.default_rng(seed).normal(0.0, 1.0, shape) * np.sqrt(light)
    return np.clip(noisy, 0.0, 65_000.0).astype(np.uint16)
