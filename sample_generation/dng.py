"""Write an exposure as a DNG file: preview first, raw picture in a sub-directory.

Tags follow the DNG specification 1.4; the raw picture is lossless JPEG in tiles, or plain.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

import imagecodecs
import numpy as np

from auditor.model.arrays import U16
from auditor.model.codes import Layout
from sample_generation.camera import DAYLIGHT_WHITE_BALANCE, Exposure
from sample_generation.digest import new_raw_image_digest, raw_image_digest
from sample_generation.facts import FrameFacts, exif_directory, gps_directory
from sample_generation.preview import PreviewStyle, preview_jpeg
from sample_generation.tiff import (
    ASCII,
    BYTE,
    DOUBLE,
    LONG,
    RATIONAL,
    SHORT,
    SRATIONAL,
    Directory,
    tiff_bytes,
)

TILE = 512
PLAIN, LOSSLESS_JPEG = 1, 7
CFA, LINEAR_RAW, YCBCR = 32803, 34892, 6

COLOR_MATRIX = (1.1, -0.3, -0.1, -0.45, 1.25, 0.2, -0.05, 0.2, 0.65)
"""XYZ to the invented body's colours, a plausible one."""


@dataclass(frozen=True, slots=True)
class DngOptions:
    """How a file is written.

    Parameters
    ----------
    compressed : bool
        Lossless JPEG in tiles; otherwise (and always for linear data) plain in one strip.
    digests : bool
        Carry RawImageDigest and NewRawImageDigest.
    noise_profile : bool
        Carry the true noise as NoiseProfile.
    masked_areas : bool
        Tell where the masked border is.
    preview : bool
        Embed a preview.
    white_tag : bool
        Claim a saturation at all.
    baseline_exposure_stops : float or None
        By how much the picture is to be shown brighter than it was recorded, where told.
    """

    compressed: bool = True
    digests: bool = False
    noise_profile: bool = False
    masked_areas: bool = True
    preview: bool = True
    white_tag: bool = True
    baseline_exposure_stops: float | None = None


def dng_bytes(
    exposure: Exposure,
    facts: FrameFacts,
    *,
    style: PreviewStyle | None = None,
    options: DngOptions | None = None,
) -> bytes:
    """Make the whole file."""
    chosen = options or DngOptions()
    chunks = _raw_chunks(exposure, compressed=chosen.compressed)
    jpeg, wide, high = b"", 0, 0
    if chosen.preview:
        jpeg, wide, high = preview_jpeg(exposure, style or PreviewStyle())
    sizes = [_even(len(chunk)) for chunk in (jpeg, *chunks)]
    raw = _raw_directory(exposure, chosen, [len(chunk) for chunk in chunks])
    first = _first_directory(exposure, facts, chosen, raw)
    if chosen.preview:
        _put_preview(first, wide, high, len(jpeg))
    # all sizes are known, so a first laying-down tells where the pictures begin
    start = _even(len(tiff_bytes(first)))
    offsets = [start + sum(sizes[:n]) for n in range(len(sizes))]
    if chosen.preview:
        first.put(273, LONG, offsets[0])
    raw.put(324 if 324 in raw.entries else 273, LONG, offsets[1:])
    head = tiff_bytes(first)
    return b"".join(_padded([head, jpeg, *chunks]))


def _even(size: int) -> int:
    return size + size % 2


def _padded(parts: Iterable[bytes]) -> list[bytes]:
    return [part + b"\0" * (len(part) % 2) for part in parts]


def _raw_chunks(exposure: Exposure, *, compressed: bool) -> list[bytes]:
    if not _tiled(exposure, compressed):
        return [np.ascontiguousarray(exposure.stored, dtype="<u2").tobytes()]
    rows, cols = exposure.stored.shape
    depth = exposure.sensor.bit_depth
    return [
        _tile_jpeg(exposure.stored[top : top + TILE, left : left + TILE], depth)
        for top in range(0, rows, TILE)
        for left in range(0, cols, TILE)
    ]


def _tiled(exposure: Exposure, compressed: bool) -> bool:
    return compressed and exposure.stored.ndim == 2


def _tile_jpeg(part: U16, depth: int) -> bytes:
    """Encode one tile, its edge repeated where the picture ends.

    Two rows of the tile make one row of the JPEG, so that the pixel above, from which each
    is foretold, has the same colour (common practice in DNG).
    """
    down, across = TILE - part.shape[0], TILE - part.shape[1]
    if down or across:
        part = np.pad(part, ((0, down), (0, across)), mode="edge")
    paired = np.ascontiguousarray(part).reshape(TILE // 2, TILE * 2)
    return bytes(imagecodecs.ljpeg_encode(paired, bitspersample=depth))


def _raw_directory(exposure: Exposure, options: DngOptions, sizes: list[int]) -> Directory:
    raw, sensor = Directory(), exposure.sensor
    rows, cols = exposure.stored.shape[:2]
    samples = 3 if exposure.stored.ndim == 3 else 1
    linear = sensor.colours.layout in (Layout.LINEAR, Layout.MONO)
    raw.put(254, LONG, 0)
    raw.put(256, LONG, cols)
    raw.put(257, LONG, rows)
    raw.put(258, SHORT, (16,) * samples)
    raw.put(262, SHORT, LINEAR_RAW if linear else CFA)
    raw.put(277, SHORT, samples)
    raw.put(284, SHORT, 1)
    _put_chunks(raw, exposure, options, sizes)
    if not linear:
        _put_pattern(raw, exposure)
    _put_levels(raw, exposure, options)
    top, left = sensor.margin_top, sensor.margin_left
    raw.put(50829, LONG, (top, left, rows, cols))
    if options.masked_areas and exposure.mosaic.masked:
        raw.put(50830, LONG, _masked_rectangles(top, left, rows, cols))
    raw.put(50718, RATIONAL, (1, 1))
    raw.put(50719, RATIONAL, (0, 0))
    raw.put(50720, RATIONAL, (sensor.width, sensor.height))
    if options.noise_profile:
        raw.put(51041, DOUBLE, _noise_profile(exposure))
    return raw


def _put_chunks(raw: Directory, exposure: Exposure, options: DngOptions, sizes: list[int]) -> None:
    placeholders = [0] * len(sizes)
    if _tiled(exposure, options.compressed):
        raw.put(259, SHORT, LOSSLESS_JPEG)
        raw.put(322, LONG, TILE)
        raw.put(323, LONG, TILE)
        raw.put(324, LONG, placeholders)
        raw.put(325, LONG, sizes)
    else:
        raw.put(259, SHORT, PLAIN)
        raw.put(273, LONG, placeholders)
        raw.put(278, LONG, exposure.stored.shape[0])
        raw.put(279, LONG, sizes)


def _put_pattern(raw: Directory, exposure: Exposure) -> None:
    colours = exposure.sensor.colours
    code = {"R": 0, "G": 1, "G1": 1, "G2": 1, "B": 2}
    raw.put(33421, SHORT, colours.pattern.shape)
    raw.put(33422, BYTE, [code[colours.planes[p]] for p in colours.pattern.ravel()])
    raw.put(50710, BYTE, (0, 1, 2))
    raw.put(50711, SHORT, 1)


def _put_levels(raw: Directory, exposure: Exposure, options: DngOptions) -> None:
    black = exposure.mosaic.black.pattern_dn
    raw.put(50713, SHORT, black.shape[:2])
    raw.put(50714, RATIONAL, [Fraction(float(value)) for value in black.ravel()])
    if np.array_equal(black, np.rint(black)):
        raw.put(50714, SHORT, [int(value) for value in black.ravel()])
    if options.white_tag:
        samples = 3 if exposure.stored.ndim == 3 else 1
        raw.put(50717, LONG, (exposure.sensor.white_tag_dn,) * samples)


def _masked_rectangles(top: int, left: int, rows: int, cols: int) -> list[int]:
    """Top, left, bottom, right of each masked rectangle."""
    above = [0, 0, top, cols] if top else []
    beside = [top, 0, rows, left] if left else []
    return above + beside


def _noise_profile(exposure: Exposure) -> list[float]:
    """Pairs S, O with ``sigma² = S x + O``, x from black to the claimed white."""
    pairs: list[float] = []
    planes = {p.name.rstrip("12"): p for p in exposure.truth.planes}
    for plane in planes.values():
        span = exposure.sensor.white_tag_dn - exposure.sensor.black_dn
        pairs += [plane.gain_dn_per_e / span, (plane.read_noise_dn / span) ** 2]
    return pairs


def _first_directory(
    exposure: Exposure, facts: FrameFacts, options: DngOptions, raw: Directory
) -> Directory:
    first = Directory()
    first.put(271, ASCII, facts.make)
    first.put(272, ASCII, facts.model)
    first.put(274, SHORT, facts.orientation)
    first.put(305, ASCII, f"{facts.model} 1.2")
    first.put(306, ASCII, facts.captured_at.strftime("%Y:%m:%d %H:%M:%S"))
    first.point(34665, exif_directory(facts))
    if facts.position is not None:
        first.point(34853, gps_directory(*facts.position))
    first.put(50706, BYTE, (1, 4, 0, 0))
    first.put(50707, BYTE, (1, 3, 0, 0))
    first.put(50708, ASCII, facts.model)
    first.put(50735, ASCII, facts.serial)
    _put_colour(first, exposure)
    if options.baseline_exposure_stops is not None:
        first.put(50730, SRATIONAL, (options.baseline_exposure_stops,))
    if options.digests:
        first.put(50972, BYTE, raw_image_digest(exposure.stored))
        first.put(51111, BYTE, new_raw_image_digest(exposure.stored))
    if options.preview:
        first.point(330, raw)
        return first
    # without a preview the raw picture is the first directory itself
    first.entries.update(raw.entries)
    raw.entries = first.entries
    return first


def _put_colour(first: Directory, exposure: Exposure) -> None:
    if exposure.sensor.colours.layout is Layout.MONO:
        return
    neutral = [1.0 / DAYLIGHT_WHITE_BALANCE[name] for name in ("R", "G", "B")]
    first.put(50721, SRATIONAL, COLOR_MATRIX)
    first.put(50728, RATIONAL, neutral)
    first.put(50778, SHORT, 21)


def _put_preview(first: Directory, wide: int, high: int, size: int) -> None:
    first.put(254, LONG, 1)
    first.put(256, LONG, wide)
    first.put(257, LONG, high)
    first.put(258, SHORT, (8, 8, 8))
    first.put(259, SHORT, LOSSLESS_JPEG)
    first.put(262, SHORT, YCBCR)
    first.put(273, LONG, 0)
    first.put(277, SHORT, 3)
    first.put(278, LONG, high)
    first.put(279, LONG, size)
    first.put(284, SHORT, 1)
    first.put(530, SHORT, (1, 1))
