"""Exif data inside containers that are no TIFF. Synthetic headers; one real CR3."""

from __future__ import annotations

import struct
from pathlib import Path

import pytest

from auditor.model.facts import FileFacts
from auditor.read.containers import raf_black
from auditor.read.exif import read_facts
from sample_generation.tiff import ASCII, RATIONAL, SHORT
from tests.built_containers import (
    EXIF,
    GPS,
    IMAGE,
    box,
    cr3_file,
    crw_file,
    exif_tiff,
    facts_of,
    long_box,
    mrw_file,
    plain_tiff,
    raf_file,
    x3f_file,
    x3f_picture,
    x3f_properties,
)
from tests.real_files import real_file


def expected(tmp_path: Path, *, gps: bool = False) -> FileFacts:
    return facts_of(tmp_path, exif_tiff(gps=GPS if gps else None))


def test_cr3_holds_the_same_facts_as_a_tiff(tmp_path: Path) -> None:
    assert facts_of(tmp_path, cr3_file(), "cr3") == expected(tmp_path, gps=True)


def test_cr3_is_read_where_its_pixels_are_cut_off(tmp_path: Path) -> None:
    whole = cr3_file()
    cut = whole[: whole.index(b"mdat") + 10]
    assert facts_of(tmp_path, cut, "cr3") == expected(tmp_path, gps=True)


def test_boxes_of_both_special_sizes_are_read(tmp_path: Path) -> None:
    # size 1: eight bytes of size follow; size 0: to the end of the file
    head = box(b"ftyp", b"crx \0\0\0\1crx isom") + long_box(b"free", b"\0" * 40)
    movie = cr3_file()
    start = movie.index(b"moov") - 4
    body = movie[start + 8 : start + struct.unpack(">I", movie[start : start + 4])[0]]
    content = head + box(b"moov", body, size=0)
    assert facts_of(tmp_path, content, "cr3") == expected(tmp_path, gps=True)


@pytest.mark.parametrize("size", [2, 7, 0xFFFFFFFF])
def test_a_box_of_an_impossible_size_ends_the_walk(tmp_path: Path, size: int) -> None:
    content = box(b"ftyp", b"crx \0\0\0\1") + box(b"free", b"\0" * 40, size=size) + cr3_file()
    assert facts_of(tmp_path, content, "cr3") == FileFacts()


def test_the_makers_notes_of_cr3_add_temperature_and_distance(tmp_path: Path) -> None:
    shot = [0] * 12 + [128 + 38] + [0] * 20
    info = [0] * 20 + [294, 265] + [0] * 4
    maker = {0x0004: (SHORT, shot), 0x0093: (SHORT, info), 0x0095: (ASCII, "EF lens")}
    exif = {tag: value for tag, value in EXIF.items() if tag != 0xA434}
    facts = facts_of(tmp_path, cr3_file(IMAGE, exif, GPS, maker), "cr3")
    assert facts.temperature_c == 38.0
    assert facts.lens.focus_distance_m == pytest.approx(2.795)
    assert facts.lens.model == "EF lens"


@pytest.mark.parametrize(
    ("shot", "info"), [([0] * 30, [0] * 30), ([0] * 5, [0] * 5), ([0] * 30, [65535] * 30)]
)
def test_notes_without_values_tell_nothing(
    tmp_path: Path, shot: list[int], info: list[int]
) -> None:
    maker = {0x0004: (SHORT, shot), 0x0093: (SHORT, info)}
    facts = facts_of(tmp_path, cr3_file(IMAGE, EXIF, GPS, maker), "cr3")
    assert (facts.temperature_c, facts.lens.focus_distance_m) == (None, None)


def test_real_cr3_is_told() -> None:
    facts = read_facts(real_file("header-only.cr3").read_bytes(), "cr3")
    assert facts.captured_at == "2019-12-05T13:32:49.54+08:00"
    assert (facts.exposure.time_s, facts.exposure.nominal_time_s) == (1 / 128, 1 / 125)
    assert (facts.orientation, facts.temperature_c) == (6, 29.0)
    assert facts.lens.model == "EF24-105mm f/4L IS USM"


def test_raf_holds_the_exif_of_its_jpeg(tmp_path: Path) -> None:
    assert facts_of(tmp_path, raf_file(exif_tiff()), "raf") == expected(tmp_path)


def test_raf_is_read_where_its_jpeg_is_cut_off(tmp_path: Path) -> None:
    whole = raf_file(exif_tiff())
    cut = whole[: whole.index(b"\xff\xda")]
    assert facts_of(tmp_path, cut, "raf") == expected(tmp_path)


def test_raf_tells_the_black_level_of_each_place(tmp_path: Path) -> None:
    levels = tuple(range(1000, 1036))
    path = tmp_path / "a.raf"
    path.write_bytes(raf_file(exif_tiff(), levels))
    black = raf_black(path.read_bytes())
    assert black is not None
    assert black.tolist() == [list(levels[row * 6 : row * 6 + 6]) for row in range(6)]


@pytest.mark.parametrize("levels", [(), (1, 2, 3), (70_000,) * 36])
def test_raf_black_levels_that_fit_no_pattern_are_not_told(
    tmp_path: Path, levels: tuple[int, ...]
) -> None:
    path = tmp_path / "a.raf"
    path.write_bytes(raf_file(exif_tiff(), levels))
    assert raf_black(path.read_bytes()) is None


def test_mrw_holds_a_tiff_block(tmp_path: Path) -> None:
    assert facts_of(tmp_path, mrw_file(exif_tiff()), "mrw") == expected(tmp_path)


def test_x3f_holds_the_exif_of_a_picture(tmp_path: Path) -> None:
    content = x3f_file([(b"IMA2", b"SECi" + b"\0" * 60), (b"IMA2", x3f_picture(exif_tiff()))])
    assert facts_of(tmp_path, content, "x3f") == expected(tmp_path)


def test_x3f_without_a_directory_is_searched(tmp_path: Path) -> None:
    content = b"FOVb".ljust(200, b"\0") + x3f_picture(plain_tiff(IMAGE))[28:]
    # the first segment of that JPEG is no Exif, so put it first as such files do
    content = content.replace(b"\xff\xd8" + content[content.index(b"\xff\xe0") :][:18], b"\xff\xd8")
    assert facts_of(tmp_path, content, "x3f").camera.model == "Brackwell F45"


def test_x3f_without_exif_tells_its_properties(tmp_path: Path) -> None:
    listed = {
        "CAMMANUF": "Brackwell",
        "CAMMODEL": "Brackwell F24",
        "EXPTIME": "4000",
        "APERTURE": "8.0",
        "ISO": "100",
        "FLENGTH": "24",
        "TIME": "1947177727",
    }
    facts = facts_of(tmp_path, x3f_file([(b"PROP", x3f_properties(listed))]), "x3f")
    assert (facts.camera.make, facts.camera.model) == ("Brackwell", "Brackwell F24")
    assert (facts.exposure.time_s, facts.exposure.f_number) == (0.004, 8.0)
    assert (facts.exposure.iso, facts.lens.focal_mm) == (100.0, 24.0)
    assert facts.captured_at == "2031-09-14T18:42:07"


def test_x3f_takes_the_time_that_was_set_over_the_longer_integration(tmp_path: Path) -> None:
    listed = {"EXPTIME": "38000", "SHUTTER": "0.0333333"}
    exposure = facts_of(tmp_path, x3f_file([(b"PROP", x3f_properties(listed))]), "x3f").exposure
    assert exposure.time_s == pytest.approx(1 / 32)
    assert exposure.nominal_time_s == pytest.approx(1 / 30, rel=1e-4)


def test_x3f_with_a_damaged_list_tells_nothing(tmp_path: Path) -> None:
    listed = bytearray(x3f_properties({"ISO": "100"}))
    listed[8:12] = struct.pack("<I", 400)
    assert facts_of(tmp_path, x3f_file([(b"PROP", bytes(listed))]), "x3f") == FileFacts()


def test_crw_tells_body_and_time(tmp_path: Path) -> None:
    facts = facts_of(tmp_path, crw_file("Brackwell", "Brackwell F24", 1947177727), "crw")
    assert (facts.camera.make, facts.camera.model) == ("Brackwell", "Brackwell F24")
    assert facts.captured_at == "2031-09-14T18:42:07"


def test_crw_heaps_in_a_ring_end(tmp_path: Path) -> None:
    content = bytearray(crw_file("Brackwell", "Brackwell F24", 0))
    # let the inner heap's entry point to the whole outer heap
    entry = content.rindex(struct.pack("<H", 0x2807))
    content[entry + 2 : entry + 10] = struct.pack("<II", len(content) - 26, 0)
    assert facts_of(tmp_path, bytes(content), "crw") == FileFacts()


def test_ratios_survive_a_container(tmp_path: Path) -> None:
    exif = {**EXIF, 0x829A: (RATIONAL, 4), 0x9201: (RATIONAL, 0)}
    assert facts_of(tmp_path, cr3_file(IMAGE, exif), "cr3").exposure.time_s == 4.0
