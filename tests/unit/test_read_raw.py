"""Decoding: real files, previews, refusals, and what outlives the open file."""

from __future__ import annotations

import io
import os
import shutil
from pathlib import Path
from types import SimpleNamespace
from typing import cast

import numpy as np
import pytest
import rawpy
import tifffile
from PIL import Image

from auditor.examine import examine_file
from auditor.model.codes import Layout
from auditor.model.errors import UnreadableFile
from auditor.model.settings import MeasureSettings
from auditor.read.preview import NoPreview, as_on_sensor
from auditor.read.raw import DECODER, _decoder_facts, read_preview
from auditor.task import ExamineTask
from tests.built_dng import (
    BLACK,
    LONG,
    RATIONAL,
    SHORT,
    WHITE,
    common_tags,
    extra,
    flat,
    opened,
    write_dng,
)
from tests.real_files import real_file
from tests.told import said


def refusal(path: Path, kind: str = "dng") -> str:
    """Open a file that must be refused; return the code."""
    with pytest.raises(UnreadableFile) as caught:
        opened(path, kind)
    assert caught.value.message
    return caught.value.code


# --- real files ------------------------------------------------------------------------------


def test_the_large_real_file_reaches_above_its_white_level() -> None:
    # 14 bits; data to 16628 above white 16383, linear to 15360, black 512 (seen with LibRaw)
    frame = opened(real_file("full-frame.arw"), "tiff")
    mosaic = frame.mosaic
    assert (mosaic.layout, mosaic.pixels.shape) == (Layout.BAYER, (3464, 5184))
    assert int(mosaic.pixels.max()) == 16628
    assert mosaic.white_dn == (16383.0,) * 4
    assert mosaic.linear_limit_dn == (15360.0,) * 4
    assert mosaic.bit_depth == 14
    assert mosaic.black.pattern_dn.tolist() == [[512.0, 512.0], [512.0, 512.0]]
    assert mosaic.masked == ()
    assert frame.facts.white_balance["R"] == pytest.approx(2528 / 1024)
    assert frame.decoder == DECODER


@pytest.mark.parametrize(
    ("name", "shape", "white_dn", "iso"),
    [
        ("compact-1996.kdc", (512, 768), 16383.0, 84.0),
        ("compact-1997.kdc", (976, 848), 510.0, 160.0),
    ],
)
def test_old_real_files_are_read_with_the_iso_that_only_the_decoder_finds(
    name: str, shape: tuple[int, int], white_dn: float, iso: float
) -> None:
    frame = opened(real_file(name), "tiff")
    assert frame.mosaic.pixels.shape == shape
    assert frame.mosaic.white_dn == (white_dn,) * 4
    assert frame.mosaic.pattern.tolist() == [[1, 0], [3, 2]]
    assert frame.facts.exposure.iso == iso
    assert said(frame.facts.remarks) == "Not in the metadata, from the decoder: ISO."


@pytest.mark.parametrize(
    ("name", "kind", "code"),
    [
        ("truncated.nef", "tiff", "cut-off"),
        ("header-only.cr3", "cr3", "cut-off"),
        ("opens-but-zeros.arw", "tiff", "no-pixels"),
    ],
)
def test_real_files_that_were_cut_off_are_refused(name: str, kind: str, code: str) -> None:
    assert refusal(real_file(name), kind) == code


def test_the_decoder_says_nothing_of_its_own(capfd: pytest.CaptureFixture[str]) -> None:
    refusal(real_file("truncated.nef"), "tiff")
    assert capfd.readouterr() == ("", "")


# --- what outlives the file ------------------------------------------------------------------


def test_pixels_held_stay_valid_after_the_file_is_closed(tmp_path: Path) -> None:
    frame = opened(write_dng(tmp_path / "a.dng", flat()))
    pixels = frame.mosaic.pixels
    del frame
    assert pixels.tolist() == flat().tolist()


def test_names_of_other_bytes_are_decoded(tmp_path: Path) -> None:
    path = Path(os.fsdecode(os.fsencode(tmp_path) + b"/caf\xe9.dng"))
    shutil.copy(write_dng(tmp_path / "a.dng", flat()), path)
    frame = opened(path)
    assert frame.mosaic.pixels.tolist() == flat().tolist()


# --- previews --------------------------------------------------------------------------------


def with_preview(path: Path, preview: bytes, shape: tuple[int, int], orientation: int) -> Path:
    """A DNG whose first directory is a JPEG preview and whose raw picture lies below it."""
    place_holder = np.zeros((*shape, 3), dtype=np.uint8)
    with tifffile.TiffWriter(path) as writer:
        writer.write(
            place_holder,
            photometric="RGB",
            subfiletype=1,
            subifds=1,
            metadata=None,
            rowsperstrip=shape[0],
            extratags=[extra(*tag) for tag in [*common_tags(None), (274, SHORT, orientation)]],
        )
        raw = [extra(*tag) for tag in common_tags(((0, 1), (1, 2))) if tag[0] >= 33421]
        writer.write(flat(), photometric="CFA", subfiletype=0, metadata=None, extratags=raw)
    with tifffile.TiffFile(path, mode="r+") as file:
        page = file.pages.first
        page.tags[259].overwrite(7)
        page.tags[262].overwrite(6)
        page.tags[279].overwrite(len(preview))
        offset = page.tags[273].value[0]
    content = bytearray(path.read_bytes())
    assert len(preview) <= place_holder.nbytes
    content[offset : offset + len(preview)] = preview
    path.write_bytes(bytes(content))
    return path


def jpeg(height: int, width: int) -> bytes:
    """Red in the upper left quarter, grey else."""
    picture = np.full((height, width, 3), 128, dtype=np.uint8)
    picture[: height // 2, : width // 2] = 250, 10, 10
    held = io.BytesIO()
    Image.fromarray(picture).save(held, "JPEG", quality=90)
    return held.getvalue()


def red_corner(preview: np.ndarray) -> tuple[int, int]:
    """Which quarter is red: (0 upper or 1 lower, 0 left or 1 right)."""
    height, width = preview.shape[:2]
    red = preview[:, :, 0].astype(int) - preview[:, :, 1] > 100
    quarters = [(y, x) for y in (0, 1) for x in (0, 1)]
    (found,) = [
        (y, x)
        for y, x in quarters
        if red[height // 4 + y * height // 2, width // 4 + x * width // 2]
    ]
    return found


@pytest.mark.parametrize(("longest", "shape"), [(90, (60, 90, 3)), (800, (160, 240, 3))])
def test_a_preview_is_made_as_small_as_wanted(
    tmp_path: Path, longest: int, shape: tuple[int, ...]
) -> None:
    path = with_preview(tmp_path / "a.dng", jpeg(160, 240), (160, 240), 1)
    preview = read_preview(path.read_bytes(), longest)
    assert preview.pixels.shape == shape
    assert preview.pixels.dtype == np.uint8
    assert (preview.width, preview.height) == (240, 160), "its own size"
    assert red_corner(preview.pixels) == (0, 0)


@pytest.mark.parametrize(
    ("shape", "orientation", "corner"),
    [
        # lies as the sensor does: untouched, whatever the file asks for
        ((160, 240), 6, (0, 0)),
        ((160, 240), 3, (0, 0)),
        # stored upright: a quarter right brings the sensor's lower left up, so it goes back there
        ((240, 160), 6, (1, 0)),
        ((240, 160), 8, (0, 1)),
        # upright without being asked for: nothing to undo
        ((240, 160), 1, (0, 0)),
    ],
)
def test_a_preview_lies_as_the_sensor_does(
    tmp_path: Path, shape: tuple[int, int], orientation: int, corner: tuple[int, int]
) -> None:
    path = with_preview(tmp_path / "a.dng", jpeg(*shape), shape, orientation)
    preview = as_on_sensor(read_preview(path.read_bytes(), 800), True, orientation)
    assert red_corner(preview.pixels) == corner
    assert preview.pixels.shape[:2] == (preview.height, preview.width)


def test_a_damaged_preview_is_left_out_and_told(tmp_path: Path) -> None:
    whole = jpeg(160, 240)
    path = with_preview(tmp_path / "a.dng", whole[: len(whole) // 2], (160, 240), 1)
    with pytest.raises(NoPreview, match="preview-damaged"):
        read_preview(path.read_bytes(), 800)
    measured = examine_file(ExamineTask(str(path), "dng", MeasureSettings()))
    assert measured.preview is None
    assert "preview is damaged" in said(measured.remarks)


def test_a_file_without_a_preview_tells_so(tmp_path: Path) -> None:
    with pytest.raises(NoPreview, match="no-preview"):
        read_preview(write_dng(tmp_path / "a.dng", flat()).read_bytes(), 800)


def test_an_uncompressed_preview_is_read() -> None:
    preview = read_preview(real_file("compact-1996.kdc").read_bytes(), 48)
    assert preview.pixels.shape == (32, 48, 3)


# --- refusals --------------------------------------------------------------------------------


def test_floating_point_data_are_refused(tmp_path: Path) -> None:
    # the decoder scales x1 and x40 alike to 16383
    stored = flat().astype(np.float32)
    assert refusal(write_dng(tmp_path / "a.dng", stored)) == "not-sensor-data"


def test_a_picture_of_zeros_is_refused(tmp_path: Path) -> None:
    path = write_dng(tmp_path / "a.dng", flat() * 0, (BLACK, SHORT, 512))
    assert refusal(path) == "no-pixels"


def test_a_picture_with_a_few_rows_is_refused(tmp_path: Path) -> None:
    stored = flat(400, 64)
    stored[6:] = 0
    assert refusal(write_dng(tmp_path / "a.dng", stored)) == "no-pixels"


def test_a_true_dark_frame_is_measured(tmp_path: Path) -> None:
    # black level 0: nearly all zeros, a little noise everywhere
    stored = flat(400, 64) * 0
    stored[::7, ::9] = 1
    frame = opened(write_dng(tmp_path / "a.dng", stored))
    assert int(frame.mosaic.pixels.max()) == 1


def test_a_real_file_cut_in_the_middle_is_refused(tmp_path: Path) -> None:
    # the decoder repeats the last row it read, without an error
    path = tmp_path / "cut.arw"
    path.write_bytes(real_file("full-frame.arw").read_bytes()[:10_000_000])
    with pytest.raises(UnreadableFile, match="upper 52 %") as caught:
        opened(path, "tiff")
    assert caught.value.code == "cut-off"


def test_colours_in_an_unknown_pattern_are_refused(tmp_path: Path) -> None:
    stripes = ((0, 1), (2, 1))
    assert refusal(write_dng(tmp_path / "a.dng", flat(), pattern=stripes)) == "unsupported"


def test_three_processed_values_a_pixel_are_refused(tmp_path: Path) -> None:
    # the same data in a file that does not say of itself that they are linear
    stored = np.stack([flat()] * 3, axis=2)
    path = write_dng(tmp_path / "a.dng", stored, pattern=None)
    assert refusal(path, "cr2") == "not-sensor-data"


def test_a_claim_of_huge_size_is_refused_before_memory_is_asked_for(tmp_path: Path) -> None:
    path = write_dng(tmp_path / "a.dng", flat())
    with tifffile.TiffFile(path, mode="r+") as file:
        file.pages.first.tags[256].overwrite(60_000)
        file.pages.first.tags[257].overwrite(60_000)
    assert refusal(path) == "damaged"


def test_no_raw_file_is_unsupported(tmp_path: Path) -> None:
    (tmp_path / "a.dng").write_bytes(b"II*\0\x08\0\0\0" + b"\0" * 400)
    assert refusal(tmp_path / "a.dng") in ("unsupported", "damaged")


@pytest.mark.parametrize("share", [0.01, 0.5, 0.999])
def test_a_file_cut_off_anywhere_is_refused(tmp_path: Path, share: float) -> None:
    # an even picture size, plain strips behind the header
    whole = write_dng(tmp_path / "a.dng", flat(200, 300)).read_bytes()
    head = whole.index(flat(200, 300).tobytes()[:64])
    cut = head + int(share * (len(whole) - head))
    (tmp_path / "cut.dng").write_bytes(whole[:cut])
    assert refusal(tmp_path / "cut.dng") in ("cut-off", "unsupported", "no-pixels")


# --- facts -----------------------------------------------------------------------------------


def test_the_decoders_invented_values_are_not_taken(tmp_path: Path) -> None:
    # Exif 0/1000000 and 0/10 come out of the decoder as 1 s and f/1
    path = write_dng(tmp_path / "a.dng", flat())
    tags = [*common_tags(((0, 1), (1, 2))), (33437, RATIONAL, 0), (33434, RATIONAL, 0)]
    with tifffile.TiffWriter(path) as writer:
        writer.write(
            flat(), photometric="CFA", metadata=None, extratags=[extra(*tag) for tag in tags]
        )
    frame = opened(path)
    exposure = frame.facts.exposure
    assert (exposure.time_s, exposure.f_number, exposure.iso) == (None, None, None)
    assert frame.facts.captured_at is None


def test_tags_that_describe_another_picture_are_not_used(tmp_path: Path) -> None:
    path = write_dng(tmp_path / "a.dng", flat(), (WHITE, LONG, 4095))
    frame = opened(path)
    assert frame.mosaic.white_dn == (4095.0,) * 4
    assert frame.remarks == ()


def test_an_impossible_date_costs_neither_lens_nor_white_balance() -> None:
    class Undated:
        lens = SimpleNamespace(model="Brackwell 24-70 mm f/4")
        sizes = SimpleNamespace(flip=6)
        camera_whitebalance = (2.0, 1.0, 1.5, 0.0)

        @property
        def other(self) -> object:
            raise OverflowError

    told = _decoder_facts(cast(rawpy.RawPy, Undated()))
    assert (told.lens, told.flip) == ("Brackwell 24-70 mm f/4", 6)
    assert told.white_balance == (2.0, 1.0, 1.5, 0.0)
    assert told.moment is None
