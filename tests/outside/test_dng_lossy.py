"""Lossy DNG (compression 34892): values straightened as the DNG specification 1.7 says.

Source: DNG 1.7, chapter 6 (black, white, then OpcodeList2) and MapPolynomial (opcode 8).
"""

from __future__ import annotations

import io
import struct
from pathlib import Path

import imagecodecs
import numpy as np
import pytest
import rawpy
import tifffile
from numpy.typing import NDArray
from PIL import Image

from auditor.model.codes import Layout
from auditor.model.errors import UnreadableFile
from auditor.read.dng.curve import PEDESTAL, WHITE_DN
from tests.built_dng import BLACK, BYTE, SHORT, WHITE, chunked_dng, opened, page_below, write_dng
from tests.real_files import real_file

OPCODES_2 = 51009


def worked_out(path: Path) -> NDArray[np.float64]:
    """Linear values, 1 at white, from another JPEG decoder and the tags as tifffile reads them."""
    with tifffile.TiffFile(path) as file, path.open("rb") as stream:
        tags = page_below(file.pages.first).tags
        tiles = []
        for offset, count in zip(tags[324].value, tags[325].value, strict=True):
            stream.seek(offset)
            tiles.append(imagecodecs.jpeg8_decode(stream.read(count)))
        codes = np.concatenate(tiles, axis=1)[:400, :600].astype(float)
        black = np.array(tags[BLACK].value).reshape(3, 2)
        opcodes = tags[OPCODES_2].value
    x: NDArray[np.float64] = (codes - black[:, 0] / black[:, 1]) / (255 - black[:, 0] / black[:, 1])
    for plane in range(3):
        coefficients = struct.unpack(">4d", opcodes[4 + plane * 84 + 52 : 4 + (plane + 1) * 84])
        x[:, :, plane] = np.polynomial.polynomial.polyval(x[:, :, plane], coefficients)
    return x


def test_a_real_lossy_file_is_straightened_by_its_own_curve() -> None:
    path = real_file("linear-lossy.dng")
    frame = opened(path)
    mosaic = frame.mosaic
    assert mosaic.layout is Layout.LINEAR
    signal = (mosaic.pixels - mosaic.black.pattern_dn) / (mosaic.white_dn[0] - PEDESTAL)
    # half a DN of rounding, and a code of difference between two JPEG decoders
    assert np.abs(signal - worked_out(path)).max() < 2.0 / WHITE_DN * 4
    assert np.abs(signal - worked_out(path)).mean() < 0.5 / WHITE_DN


def test_the_decoders_own_values_do_not_fit_the_tags() -> None:
    # why they are not used: it leaves black on the code and claims white 65535
    with rawpy.imread(str(real_file("linear-lossy.dng"))) as raw:
        assert raw.white_level == 65535
        assert raw.raw_image.max() < 100
        assert raw.raw_image.min() < raw.black_level_per_channel[0]


def test_its_dark_pixels_are_as_noisy_as_its_noise_profile_says() -> None:
    # A dark frame, made smaller from 5568 x 3712 (OriginalDefaultFinalSize): a mean over n pixels
    # of a colour has the noise sqrt(O / n). The decoder's values miss this by a factor of 100.
    frame = opened(real_file("linear-lossy.dng"))
    mosaic = frame.mosaic
    shrunk = 5568 * 3712 / (600 * 400)
    for index, name in enumerate(mosaic.plane_names):
        pixels = shrunk / (2 if name == "G" else 4)
        claimed = (mosaic.noise_profile[name][1] / pixels) ** 0.5
        seen = float(mosaic.pixels[:, :, index].std()) / (WHITE_DN - PEDESTAL)
        assert 0.8 * claimed < seen < 1.5 * claimed


def jpeg(codes: np.ndarray) -> bytes:
    held = io.BytesIO()
    Image.fromarray(codes).save(held, "JPEG", quality=100, subsampling=0)
    return held.getvalue()


def polynomial(plane: int, *coefficients: float) -> bytes:
    area = struct.pack(">8I", 0, 0, 64, 64, plane, 1, 1, 1)
    content = area + struct.pack(f">I{len(coefficients)}d", len(coefficients) - 1, *coefficients)
    return struct.pack(">4I", 8, 0x01030000, 0, len(content)) + content


def opcode_list(*opcodes: bytes) -> bytes:
    return struct.pack(">I", len(opcodes)) + b"".join(opcodes)


def lossy_file(path: Path, code: int, *tags: tuple[int, int, object]) -> Path:
    """One tile of an even grey, its bytes put in place of plain data."""
    codes = np.full((64, 64, 3), code, dtype=np.uint8)
    content = jpeg(codes)
    write_dng(path, codes, (WHITE, SHORT, (255, 255, 255)), *tags, pattern=None, rowsperstrip=64)
    with tifffile.TiffFile(path, mode="r+") as file:
        page = file.pages.first
        page.tags[259].overwrite(34892)
        page.tags[279].overwrite(len(content))
        offset = page.tags[273].value[0]
    data = bytearray(path.read_bytes())
    data[offset : offset + len(content)] = content
    path.write_bytes(bytes(data))
    return path


def signal_of(path: Path) -> list[float]:
    frame = opened(path)
    mosaic = frame.mosaic
    grey = (mosaic.pixels[5, 5] - mosaic.black.pattern_dn[0, 0]) / (mosaic.white_dn[0] - PEDESTAL)
    return [float(value) for value in grey]


def test_without_a_curve_codes_are_linear(tmp_path: Path) -> None:
    path = lossy_file(tmp_path / "a.dng", 153, (BLACK, SHORT, (51, 51, 51)))
    assert signal_of(path) == pytest.approx([0.5] * 3, abs=0.01)


def test_each_plane_has_a_curve_of_its_own(tmp_path: Path) -> None:
    curves = opcode_list(polynomial(0, 0.0, 1.0), polynomial(1, 0.0, 0.0, 1.0), polynomial(2, 0.25))
    path = lossy_file(tmp_path / "a.dng", 128, (OPCODES_2, BYTE, curves))
    assert signal_of(path) == pytest.approx([0.502, 0.252, 0.25], abs=0.01)


def test_an_unknown_opcode_is_refused_unless_optional(tmp_path: Path) -> None:
    for flags, refused in ((0, True), (1, False)):
        gain = struct.pack(">4I", 9, 0x01030000, flags, 4) + b"\0\0\0\0"
        path = lossy_file(tmp_path / "a.dng", 128, (OPCODES_2, BYTE, opcode_list(gain)))
        if refused:
            with pytest.raises(UnreadableFile, match="opcode 9"):
                opened(path)
        else:
            assert signal_of(path) == pytest.approx([0.502] * 3, abs=0.01)


@pytest.mark.parametrize("bits", [8, 16])
def test_a_curve_straightens_jpeg_xl_as_well(tmp_path: Path, bits: int) -> None:
    top = 2**bits - 1
    codes = np.full((64, 64, 3), top // 2, dtype=np.uint8 if bits == 8 else np.uint16)
    content = bytes(imagecodecs.jpegxl_encode(codes, lossless=True))
    curves = opcode_list(polynomial(0, 0.0, 1.0), polynomial(1, 0.0, 0.0, 1.0), polynomial(2, 0.25))
    path = chunked_dng(
        tmp_path / "a.dng", [content], codes.shape, (OPCODES_2, BYTE, curves),
        compression=52546, bits=bits,
    )  # fmt: skip
    half = (top // 2) / top
    assert signal_of(path) == pytest.approx([half, half**2, 0.25], abs=1e-4)


def test_jpeg_xl_without_a_curve_keeps_its_own_levels(tmp_path: Path) -> None:
    codes = np.full((64, 64, 3), 30_000, dtype=np.uint16)
    content = bytes(imagecodecs.jpegxl_encode(codes, lossless=True))
    path = chunked_dng(
        tmp_path / "a.dng", [content], codes.shape, (BLACK, SHORT, (512, 512, 512)),
        compression=52546,
    )  # fmt: skip
    mosaic = opened(path).mosaic
    assert np.ptp(mosaic.pixels) == 0
    assert (mosaic.pixels[0, 0, 0], mosaic.white_dn[0]) == (30_000, 65535.0)
    assert mosaic.black.pattern_dn.ravel().tolist() == [512.0] * 3


@pytest.mark.parametrize("coefficient", [float("nan"), float("inf"), 1e308])
def test_a_curve_that_leads_to_no_number_is_refused(tmp_path: Path, coefficient: float) -> None:
    table = struct.pack(">9I2H", 0, 0, 64, 64, 0, 3, 1, 1, 2, 1, 2)
    mapped = struct.pack(">4I", 7, 0x01030000, 0, len(table)) + table
    curve = polynomial(0, coefficient, coefficient, coefficient)
    path = lossy_file(tmp_path / "a.dng", 128, (OPCODES_2, BYTE, opcode_list(curve, mapped)))
    with pytest.raises(UnreadableFile) as caught:
        opened(path)
    assert caught.value.code == "damaged"
