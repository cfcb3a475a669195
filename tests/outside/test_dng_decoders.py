"""Pixels of a DNG, decoded by its tags, held against LibRaw sample by sample.

Sources: DNG 1.7 chapter 2 ("Compression"), tags LinearizationTable (50712), RowInterleaveFactor
(50975), ColumnInterleaveFactor (52547), ActiveArea (50829); TIFF 6.0 sections 9 (packed samples)
and 14 (differencing predictor); ITU-T T.81 annex H (lossless JPEG, its seven predictors). LibRaw
is the outside reader wherever it reads a file at all; the encoders are libjpeg-turbo's, zlib's
and libjxl's.
"""

from __future__ import annotations

import struct
import zlib
from pathlib import Path
from typing import Any, Literal

import imagecodecs
import numpy as np
import pytest
import rawpy
from numpy.typing import NDArray

from auditor.model.errors import UnreadableFile
from auditor.read.dng.pixels import DECODER as OWN_DECODER
from auditor.read.raw import DECODER
from sample_generation.dng import DngOptions, dng_bytes
from sample_generation.layouts import LAYOUT_NAMES
from tests.built_dng import (
    ACTIVE,
    BLACK,
    BLACK_DIM,
    LONG,
    NEUTRAL,
    RATIONAL,
    SHORT,
    TABLE,
    chunked_dng,
    opened,
    tiles_of,
    write_dng,
)
from tests.outside.test_sample_dng import FACTS, exposed
from tests.told import said

HEIGHT, WIDTH = 70, 104
ROWS, COLS = 32, 48
PLAIN, JPEG, DEFLATE, JPEG_XL = 1, 7, 8, 52546


def texture(bits: int, samples: int = 1) -> NDArray[np.uint16]:
    """A scene of many values, the least and the largest among them."""
    chance = np.random.default_rng(bits + samples)
    shape = (HEIGHT, WIDTH) if samples == 1 else (HEIGHT, WIDTH, samples)
    ramp = np.linspace(0.0, 2.0**bits - 1.0, WIDTH)
    values = ramp.reshape((1, WIDTH, *[1] * (len(shape) - 2))) + chance.normal(
        0, 2 ** (bits / 2), shape
    )
    return np.clip(np.rint(values), 0, 2**bits - 1).astype(np.uint16)


def libraws(path: Path) -> NDArray[np.uint16]:
    """All pixels as LibRaw gives them; it pads three samples to four."""
    with rawpy.imread(str(path)) as raw:
        stored = raw.raw_image
        return (stored if stored.ndim == 2 else stored[:, :, :3]).copy()


def held_against_libraw(path: Path, stored: NDArray[Any]) -> None:
    frame = opened(path)
    assert frame.decoder == OWN_DECODER, said(frame.remarks)
    whole = frame._decoded.stored
    assert np.array_equal(whole, stored)
    assert np.array_equal(whole, libraws(path))


@pytest.mark.parametrize("compressed", [True, False])
@pytest.mark.parametrize("layout", LAYOUT_NAMES)
def test_every_layout_of_the_sample_camera(tmp_path: Path, layout: str, compressed: bool) -> None:
    taken = exposed(layout)
    path = tmp_path / "a.dng"
    path.write_bytes(dng_bytes(taken, FACTS, options=DngOptions(compressed=compressed)))
    held_against_libraw(path, taken.stored)


def jpegs(
    tiles: list[NDArray[Any]], bits: int, predictor: int, cut: tuple[int, ...]
) -> list[bytes]:
    """Encode tiles as lossless JPEG of another shape, ``cut``."""
    return [
        bytes(
            imagecodecs.jpeg8_encode(
                np.ascontiguousarray(tile.reshape(cut)),
                lossless=True, predictor=predictor, bitspersample=bits,
            )
        )
        for tile in tiles
    ]  # fmt: skip


CUTS = {
    "as the tile": (ROWS, COLS),
    "two rows in one": (ROWS // 2, COLS * 2),
    "two components": (ROWS, COLS // 2, 2),
    "two components, two rows in one": (ROWS // 2, COLS, 2),
    "four components": (ROWS, COLS // 4, 4),
}


@pytest.mark.parametrize("predictor", range(1, 8))
@pytest.mark.parametrize("cut", CUTS)
def test_lossless_jpeg_however_it_is_cut(tmp_path: Path, cut: str, predictor: int) -> None:
    stored = texture(14)
    tiles = jpegs(tiles_of(stored, ROWS, COLS), 14, predictor, CUTS[cut])
    path = chunked_dng(tmp_path / "a.dng", tiles, stored.shape, compression=JPEG, tile=(ROWS, COLS))
    held_against_libraw(path, stored)


@pytest.mark.parametrize("bits", [8, 10, 12, 14, 16])
def test_lossless_jpeg_of_any_depth(tmp_path: Path, bits: int) -> None:
    stored = texture(bits)
    kind = np.uint8 if bits == 8 else np.uint16
    tiles = jpegs(tiles_of(stored.astype(kind), ROWS, COLS), bits, 1, CUTS["two components"])
    path = chunked_dng(
        tmp_path / "a.dng", tiles, stored.shape, compression=JPEG, tile=(ROWS, COLS), bits=bits
    )
    held_against_libraw(path, stored)


def in_strips(path: Path, stored: NDArray[Any], rows: int) -> Path:
    strips = [stored[top : top + rows] for top in range(0, HEIGHT, rows)]
    content = [jpegs([strip], 14, 1, (len(strip), WIDTH // 2, 2))[0] for strip in strips]
    return chunked_dng(path, content, stored.shape, compression=JPEG, strip_rows=rows)


def test_lossless_jpeg_in_one_strip(tmp_path: Path) -> None:
    stored = texture(14)
    held_against_libraw(in_strips(tmp_path / "a.dng", stored, HEIGHT), stored)


def test_lossless_jpeg_in_several_strips(tmp_path: Path) -> None:
    # LibRaw decodes the first strip; what follows is whatever lay in memory
    stored = texture(14)
    path = in_strips(tmp_path / "a.dng", stored, 32)
    frame = opened(path)
    assert frame.decoder == OWN_DECODER
    assert np.array_equal(frame.mosaic.pixels, stored)
    assert np.array_equal(libraws(path)[:32], stored[:32])


def test_lossless_jpeg_of_three_samples(tmp_path: Path) -> None:
    stored = texture(14, samples=3)
    tiles = jpegs(tiles_of(stored, ROWS, COLS), 14, 1, (ROWS, COLS, 3))
    path = chunked_dng(tmp_path / "a.dng", tiles, stored.shape, compression=JPEG, tile=(ROWS, COLS))
    held_against_libraw(path, stored)


def packed(values: NDArray[Any], bits: int) -> bytes:
    """Pack samples, high bits first, each row to a whole byte (TIFF 6.0, section 9)."""
    rows = []
    for row in values.reshape(len(values), -1):
        digits = "".join(f"{int(value):0{bits}b}" for value in row)
        digits += "0" * (-len(digits) % 8)
        rows.append(int(digits, 2).to_bytes(len(digits) // 8, "big"))
    return b"".join(rows)


@pytest.mark.parametrize("tiled", [True, False])
@pytest.mark.parametrize("bits", [8, 10, 12, 14])
def test_plain_samples_of_any_depth(tmp_path: Path, bits: int, tiled: bool) -> None:
    stored = texture(bits)
    parts = tiles_of(stored, ROWS, COLS) if tiled else [stored[:33], stored[33:66], stored[66:]]
    path = chunked_dng(
        tmp_path / "a.dng", [packed(part, bits) for part in parts], stored.shape,
        compression=PLAIN, bits=bits, tile=(ROWS, COLS) if tiled else None, strip_rows=33,
    )  # fmt: skip
    held_against_libraw(path, stored)


@pytest.mark.parametrize("order", ["<", ">"])
@pytest.mark.parametrize("tile", [None, (32, 48)])
def test_plain_samples_of_16_bits_in_both_byte_orders(
    tmp_path: Path, order: Literal["<", ">"], tile: tuple[int, int] | None
) -> None:
    stored = texture(16)
    held_against_libraw(write_dng(tmp_path / "a.dng", stored, byteorder=order, tile=tile), stored)


def test_a_linearisation_table_stands_for_the_codes(tmp_path: Path) -> None:
    codes = texture(8)
    table = (np.arange(256) ** 2 // 16).tolist()
    path = chunked_dng(
        tmp_path / "a.dng", [packed(codes, 8)], codes.shape, (TABLE, SHORT, table),
        compression=PLAIN, bits=8,
    )  # fmt: skip
    held_against_libraw(path, np.array(table)[codes])


def test_the_last_entry_of_a_short_table_counts_for_all_codes_beyond(tmp_path: Path) -> None:
    # LibRaw does the same up to code 4095
    codes = texture(8)
    table = list(range(0, 400, 4))
    path = chunked_dng(
        tmp_path / "a.dng", [packed(codes, 8)], codes.shape, (TABLE, SHORT, table),
        compression=PLAIN, bits=8,
    )  # fmt: skip
    held_against_libraw(path, np.array(table)[np.minimum(codes, 99)])


def test_the_active_area_counts_to_the_pixel(tmp_path: Path) -> None:
    # LibRaw moves odd margins by one, so that its pattern stays as it is
    stored = texture(14)
    path = write_dng(tmp_path / "a.dng", stored, (ACTIVE, LONG, (5, 3, 67, 100)))
    mosaic = opened(path).mosaic
    assert np.array_equal(mosaic.pixels, stored[5:67, 3:100])
    with rawpy.imread(str(path)) as raw:
        assert (raw.sizes.top_margin, raw.sizes.left_margin) == (6, 4)


def deflated(values: NDArray[Any], predictor: int) -> bytes:
    """Deflate, as differences to the first, second or fourth neighbour where asked for."""
    apart = {1: 0, 2: 1, 34892: 2, 34893: 4}[predictor]
    held = values.copy()
    if apart:
        held[:, apart:] -= values[:, :-apart]
    return zlib.compress(held.tobytes())


@pytest.mark.parametrize("samples", [1, 3])
@pytest.mark.parametrize("predictor", [1, 2, 34892, 34893])
def test_deflated_integers(tmp_path: Path, predictor: int, samples: int) -> None:
    # LibRaw inflates floating-point samples only
    stored = texture(16, samples)
    path = chunked_dng(
        tmp_path / "a.dng",
        [deflated(tile, predictor) for tile in tiles_of(stored, ROWS, COLS)],
        stored.shape, (317, SHORT, predictor), compression=DEFLATE, tile=(ROWS, COLS),
    )  # fmt: skip
    frame = opened(path)
    assert frame.decoder == OWN_DECODER
    assert np.array_equal(frame.mosaic.pixels, stored)


@pytest.mark.parametrize("samples", [1, 3])
def test_jpeg_xl(tmp_path: Path, samples: int) -> None:
    # LibRaw knows none
    stored = texture(16, samples)
    tiles = [
        bytes(imagecodecs.jpegxl_encode(tile, lossless=True))
        for tile in tiles_of(stored, ROWS, COLS)
    ]
    path = chunked_dng(
        tmp_path / "a.dng", tiles, stored.shape, compression=JPEG_XL, tile=(ROWS, COLS)
    )
    frame = opened(path)
    assert frame.decoder == OWN_DECODER
    assert np.array_equal(frame.mosaic.pixels, stored)


def test_interleaved_fields_are_put_together_over_the_whole_picture(tmp_path: Path) -> None:
    stored = texture(16)
    quarters = [[stored[y::2, x::2] for x in (0, 1)] for y in (0, 1)]
    laid = np.block(quarters)
    tiles = [
        bytes(imagecodecs.jpegxl_encode(tile, lossless=True)) for tile in tiles_of(laid, ROWS, COLS)
    ]
    path = chunked_dng(
        tmp_path / "a.dng", tiles, stored.shape, (50975, SHORT, 2), (52547, SHORT, 2),
        compression=JPEG_XL, tile=(ROWS, COLS),
    )  # fmt: skip
    assert np.array_equal(opened(path).mosaic.pixels, stored)


def test_what_the_tags_do_not_tell_is_left_to_libraw(tmp_path: Path) -> None:
    stored = texture(14)
    path = write_dng(tmp_path / "a.dng", stored, (BLACK_DIM, SHORT, (2, 2)), (BLACK, SHORT, (5, 5)))
    frame = opened(path)
    assert frame.decoder == DECODER
    assert "Read by LibRaw, for its black level tag is damaged." in said(frame.remarks)
    assert np.array_equal(frame.mosaic.pixels, stored)


def test_colours_in_staggered_rows_are_refused(tmp_path: Path) -> None:
    path = write_dng(tmp_path / "a.dng", texture(14), (50711, SHORT, 2))
    with pytest.raises(UnreadableFile, match="colours lie in an unknown way") as caught:
        opened(path)
    assert caught.value.code == "unsupported"


@pytest.mark.parametrize("marker", [b"\xff\xd9", b"\xff\xd0", b"\xff\xbf", b"\xff\xe0\0\4"])
def test_a_scan_that_breaks_off_is_not_filled_up_in_silence(tmp_path: Path, marker: bytes) -> None:
    # libjpeg-turbo only warns of a marker in the midst of a scan
    stored = texture(14)
    tiles = jpegs(tiles_of(stored, ROWS, COLS), 14, 1, CUTS["as the tile"])
    tiles[4] = tiles[4][:900] + marker + tiles[4][900 + len(marker) :]
    path = chunked_dng(tmp_path / "a.dng", tiles, stored.shape, compression=JPEG, tile=(ROWS, COLS))
    with pytest.raises(UnreadableFile) as caught:
        opened(path)
    assert caught.value.code == "damaged"


@pytest.mark.parametrize("interval_rows", [0, 1, 8])
def test_restart_marks_that_are_announced_are_no_damage(tmp_path: Path, interval_rows: int) -> None:
    stored = texture(14)
    tiles = [spelled_out(tile, 14, interval_rows) for tile in tiles_of(stored, ROWS, COLS)]
    path = chunked_dng(tmp_path / "a.dng", tiles, stored.shape, compression=JPEG, tile=(ROWS, COLS))
    held_against_libraw(path, stored)


def spelled_out(tile: NDArray[Any], bits: int, interval_rows: int) -> bytes:
    """Lossless JPEG in plain loops: predictor 1, and codes of five bits for all 17 categories.

    T.81, table H.2 (categories of differences) and annex F.1.2.1 (bits of a difference).
    """
    height, width = tile.shape
    marks = [b"\xff\xd8"]
    marks.append(b"\xff\xc3" + struct.pack(">HBHHB3B", 11, bits, height, width, 1, 1, 0x11, 0))
    lengths = bytes(17 if length == 5 else 0 for length in range(1, 17))
    marks.append(b"\xff\xc4" + struct.pack(">HB", 2 + 1 + 16 + 17, 0) + lengths + bytes(range(17)))
    if interval_rows:
        marks.append(b"\xff\xdd" + struct.pack(">HH", 4, interval_rows * width))
    marks.append(b"\xff\xda" + struct.pack(">HB5B", 8, 1, 1, 0, 1, 0, 0))
    step = interval_rows or height
    for number, first in enumerate(range(0, height, step)):
        if number:
            marks.append(bytes((0xFF, 0xD0 + (number - 1) % 8)))
        marks.append(_scan(tile[first : first + step].astype(int), bits))
    return b"".join([*marks, b"\xff\xd9"])


def _scan(rows: NDArray[Any], bits: int) -> bytes:
    digits = []
    for y, row in enumerate(rows):
        for x, value in enumerate(row):
            before = row[x - 1] if x else rows[y - 1][0] if y else 1 << (bits - 1)
            apart = int(value - before)
            category = abs(apart).bit_length()
            extra = apart if apart > 0 else apart + (1 << category) - 1
            digits.append(f"{category:05b}" + (f"{extra:0{category}b}" if category else ""))
    whole = "".join(digits)
    whole += "1" * (-len(whole) % 8)
    return int(whole, 2).to_bytes(len(whole) // 8, "big").replace(b"\xff", b"\xff\0")


@pytest.mark.parametrize("compression", [JPEG_XL, DEFLATE])
def test_a_damaged_tile_that_only_one_decoder_knows_is_no_unknown_kind(
    tmp_path: Path, compression: int
) -> None:
    path = chunked_dng(
        tmp_path / "a.dng", [b"\0" * 900] * 9, (HEIGHT, WIDTH),
        compression=compression, tile=(ROWS, COLS),
    )  # fmt: skip
    with pytest.raises(UnreadableFile) as caught:
        opened(path)
    assert caught.value.code == "damaged"


def test_as_shot_balance_is_what_libraw_makes_of_it(tmp_path: Path) -> None:
    path = write_dng(tmp_path / "a.dng", texture(14), (NEUTRAL, RATIONAL, (0.5, 1.0, 0.625)))
    with rawpy.imread(str(path)) as raw:
        red, green, blue = raw.camera_whitebalance[:3]
    ours = opened(path).mosaic.white_balance
    assert ours == pytest.approx({"R": red / green, "G": 1.0, "B": blue / green})


@pytest.mark.parametrize(
    ("values", "name"),
    [
        ((24.0, 24.0, 1.4, 1.4), "24 mm f/1.4"),
        ((24.0, 70.0, 2.8, 2.8), "24-70 mm f/2.8"),
        ((18.0, 55.0, 3.5, 5.6), "18-55 mm f/3.5-5.6"),
    ],
)
def test_a_lens_without_a_name_is_told_by_its_figures(
    tmp_path: Path, values: tuple[float, ...], name: str
) -> None:
    # LensInfo (50736): shortest and longest focal length, widest aperture at each
    path = write_dng(tmp_path / "a.dng", texture(14), (50736, RATIONAL, values))
    assert opened(path).facts.lens.model == name


@pytest.mark.parametrize(("number", "name"), [(9, "VC-5"), (34712, "JPEG 2000"), (60123, "60123")])
def test_an_unknown_compression_is_named_and_the_file_not_blamed(
    tmp_path: Path, number: int, name: str
) -> None:
    # numbers after TIFF 6.0 and SMPTE ST 2073 (VC-5)
    path = chunked_dng(
        tmp_path / "a.dng", [bytes(9000)], (HEIGHT, WIDTH), compression=number, bits=16
    )
    with pytest.raises(UnreadableFile, match=name) as caught:
        opened(path)
    assert caught.value.code == "unsupported"
    assert "convert it to a DNG" in caught.value.message
    assert "card" not in caught.value.message
