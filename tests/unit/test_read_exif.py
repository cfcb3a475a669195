"""Facts from Exif tags: what is told, and that absent stays absent.

Tag numbers and meanings after Exif 2.32 as the tables of two libraries give them; the reading of
subseconds as digits after the decimal point is from memory.
"""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from auditor.model.facts import FileFacts, Position
from auditor.read.exif import read_facts
from auditor.read.exif_tags import shutter_time
from sample_generation.tiff import ASCII, BYTE, LONG, RATIONAL, SHORT, SRATIONAL
from tests.built_containers import (
    EXIF,
    GPS,
    IMAGE,
    Tags,
    exif_facts,
    exif_tiff,
    facts_of,
    plain_tiff,
    ratio,
)
from tests.real_files import real_file


def test_a_whole_header_is_told(tmp_path: Path) -> None:
    facts = facts_of(tmp_path, exif_tiff(gps=GPS))
    assert (facts.camera.make, facts.camera.model) == ("Brackwell", "Brackwell F45")
    assert (facts.camera.serial, facts.orientation) == ("BW-0042", 6)
    assert (facts.lens.model, facts.lens.focal_mm) == ("Brackwell 24-70 mm f/4", 35.0)
    assert facts.captured_at == "2031-09-14T18:42:07.05+02:00"
    exposure = facts.exposure
    assert (exposure.f_number, exposure.iso, exposure.program) == (11.0, 100, "manual")
    assert (exposure.metering, exposure.flash) == ("multi-segment", False)
    assert exposure.bias_ev == pytest.approx(-1 / 3, abs=1e-5)
    assert facts.position == Position(54.51, -3.25, 12.0)


def test_nothing_is_told_of_an_empty_header(tmp_path: Path) -> None:
    assert facts_of(tmp_path, plain_tiff({256: (LONG, 10)})) == FileFacts()


# --- shutter times ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("nominal_s", "apex", "time_s", "source"),
    [
        (1 / 30, 5.0, 1 / 32, "apex"),
        (30.0, -5.0, 32.0, "apex"),
        # published example: 8643856/1000000 stands for 1/400 s
        (1 / 400, 8.643856, 1 / 400, "apex"),
        (1 / 30, None, 1 / 32, "true of nominal"),
        (30.0, None, 32.0, "true of nominal"),
        (15.0, None, 16.0, "true of nominal"),
        (1 / 125, None, 1 / 128, "true of nominal"),
        (0.5, None, 0.5, "tag"),
        (173.0, None, 173.0, "tag"),
        (1 / 41.7, None, 1 / 41.7, "tag"),
        # an APEX value of 1 s beside 1/30 is an empty field
        (1 / 30, 0.0, 1 / 32, "true of nominal"),
        # worked out from the rounded time, so it tells nothing new
        (30.0, -math.log2(30.0), 32.0, "true of nominal"),
        (1 / 60, math.log2(60.0), 1 / 64, "true of nominal"),
        # of one decimal, so rounded by as much as the dial's name is
        (30.0, -4.9, 32.0, "true of nominal"),
        (1 / 60, 5.9, 1 / 64, "true of nominal"),
        (25.0, -4.6, 2.0 ** (14 / 3), "true of nominal"),
        (6.0, -2.6, 2.0 ** (8 / 3), "true of nominal"),
        (0.5, 1.0, 0.5, "apex"),
        # counted, so no dial's name: the figure stands, whatever the APEX value rounds it to
        (29.6, None, 29.6, "tag"),
        (29.6, -5.0, 29.6, "tag"),
        (30.4, -5.0, 30.4, "tag"),
        (None, 5.0, 1 / 32, "apex"),
        (None, 0.0, None, None),
        (None, None, None, None),
    ],
)
def test_the_best_time_that_a_file_tells(
    nominal_s: float | None, apex: float | None, time_s: float | None, source: str | None
) -> None:
    found, told = shutter_time(nominal_s, apex)
    assert told == source
    assert found == (None if time_s is None else pytest.approx(time_s, rel=1e-6))


@pytest.mark.parametrize("apex", [None, -5.0])
def test_thirty_seconds_by_bulb_are_thirty(apex: float | None) -> None:
    assert shutter_time(30.0, apex, timed=True) == (30.0, "tag")


def test_bulb_is_read_from_the_program(tmp_path: Path) -> None:
    exposure = exif_facts(tmp_path, x829A=(RATIONAL, 30), x8822=(SHORT, 9), x9201=None).exposure
    assert (exposure.time_s, exposure.program) == (30.0, "bulb")


def test_the_written_time_is_kept_beside_the_true_one(tmp_path: Path) -> None:
    exposure = exif_facts(tmp_path).exposure
    assert (exposure.time_s, exposure.time_source) == (1 / 32, "apex")
    assert exposure.nominal_time_s == pytest.approx(1 / 30, rel=1e-5)


# --- absent stays absent ---------------------------------------------------------------------


@pytest.mark.parametrize("parts", [(0, 0), (0, 1000000), (0, 1)])
def test_a_time_of_zero_is_no_time(tmp_path: Path, parts: tuple[int, int]) -> None:
    exposure = exif_facts(tmp_path, x829A=ratio(*parts), x9201=None).exposure
    assert (exposure.time_s, exposure.nominal_time_s, exposure.time_source) == (None, None, None)


@pytest.mark.parametrize("parts", [(0, 0), (0, 10), (11, 0)])
def test_an_f_number_of_zero_is_none(tmp_path: Path, parts: tuple[int, int]) -> None:
    assert exif_facts(tmp_path, x829D=ratio(*parts)).exposure.f_number is None


def test_the_apex_aperture_stands_in_for_the_f_number(tmp_path: Path) -> None:
    # published example: 1695994/1000000 stands for f/1.8
    told = exif_facts(tmp_path, x829D=None, x9202=ratio(1695994, 1000000)).exposure.f_number
    assert told == pytest.approx(1.8, rel=1e-6)


@pytest.mark.parametrize(
    ("tags", "iso"),
    [
        ({"x8827": None}, None),
        ({"x8827": (SHORT, 0)}, None),
        ({"x8827": (SHORT, 65535), "x8832": (LONG, 102400)}, 102400),
        ({"x8827": None, "x8831": (LONG, 125)}, 125),
        ({"x8827": (SHORT, 65535)}, 65535),
    ],
)
def test_the_iso_comes_from_the_tag_that_holds_it(
    tmp_path: Path, tags: dict[str, object], iso: float | None
) -> None:
    assert exif_facts(tmp_path, **tags).exposure.iso == iso


def test_an_old_body_keeps_its_iso_in_the_first_directory(tmp_path: Path) -> None:
    content = exif_tiff({**IMAGE, 0x0017: (SHORT, 80)}, exif=None)
    assert facts_of(tmp_path, content, "rw2").exposure.iso == 80


def test_the_exposure_may_lie_in_the_first_directory(tmp_path: Path) -> None:
    # as TIFF/EP has it
    facts = facts_of(tmp_path, plain_tiff({**IMAGE, 0x829A: (RATIONAL, 2), 0x8827: (SHORT, 50)}))
    assert (facts.exposure.time_s, facts.exposure.iso) == (2.0, 50)


@pytest.mark.parametrize("value", [0, 9, 255])
def test_an_orientation_that_is_none_is_absent(tmp_path: Path, value: int) -> None:
    assert facts_of(tmp_path, plain_tiff({0x0112: (SHORT, value)})).orientation is None


def test_focal_lengths_and_distances_of_zero_are_absent(tmp_path: Path) -> None:
    facts = exif_facts(tmp_path, x920A=ratio(0, 1), xA405=(SHORT, 0), x9206=ratio(0, 1))
    assert (facts.lens.focal_mm, facts.lens.focal_35mm) == (None, None)
    assert facts.lens.focus_distance_m is None


def test_temperature_of_the_air_is_told(tmp_path: Path) -> None:
    assert exif_facts(tmp_path, x9400=(SRATIONAL, -4.5)).temperature_c == -4.5
    assert exif_facts(tmp_path, x9400=ratio(0, 0, signed=True)).temperature_c is None


# --- time and place --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("tags", "moment"),
    [
        ({}, "2031-09-14T18:42:07.05+02:00"),
        ({"x9291": None}, "2031-09-14T18:42:07+02:00"),
        ({"x9291": (ASCII, "5 ")}, "2031-09-14T18:42:07.5+02:00"),
        ({"x9291": (ASCII, "  ")}, "2031-09-14T18:42:07+02:00"),
        ({"x9011": None}, "2031-09-14T18:42:07.05"),
        ({"x9011": (ASCII, "   :  ")}, "2031-09-14T18:42:07.05"),
        ({"x9011": (ASCII, "+99:00")}, "2031-09-14T18:42:07.05"),
        ({"x9003": (ASCII, "0000:00:00 00:00:00")}, None),
        ({"x9003": (ASCII, "2031:02:30 10:00:00")}, None),
        ({"x9003": (ASCII, "    :  :     :  :  ")}, None),
        ({"x9003": None, "x9004": (ASCII, "2031:09:14 18:42:08")}, "2031-09-14T18:42:08"),
    ],
)
def test_the_moment_is_as_exact_as_the_file(
    tmp_path: Path, tags: dict[str, object], moment: str | None
) -> None:
    assert exif_facts(tmp_path, **tags).captured_at == moment


@pytest.mark.parametrize(("second", "offset"), [("07", "+01:00"), ("59", "")])
def test_the_offset_of_another_time_counts_only_where_it_is_the_same(
    tmp_path: Path, second: str, offset: str
) -> None:
    image = {**IMAGE, 0x0132: (ASCII, f"2031:09:14 18:42:{second}")}
    exif = {**EXIF, 0x9010: (ASCII, "+01:00")}
    exif = {tag: value for tag, value in exif.items() if tag != 0x9011}
    told = facts_of(tmp_path, exif_tiff(image, exif)).captured_at
    assert told == f"2031-09-14T18:42:07.05{offset}"


@pytest.mark.parametrize(
    "changes",
    [
        {2: ratio(0, 0, 0, 0, 0, 0)},
        {2: (RATIONAL, (91, 0, 0))},
        {2: (RATIONAL, (0, 0, 0)), 4: (RATIONAL, (0, 0, 0))},
        {1: (ASCII, "")},
        {3: (ASCII, "N")},
        {9: (ASCII, "V")},
        {4: (ASCII, "nowhere")},
    ],
)
def test_half_a_place_is_no_place(tmp_path: Path, changes: Tags) -> None:
    assert facts_of(tmp_path, exif_tiff(gps={**GPS, **changes})).position is None


def test_south_west_and_below_the_sea_are_negative(tmp_path: Path) -> None:
    changes: Tags = {1: (ASCII, "S"), 5: (BYTE, 1)}
    told = facts_of(tmp_path, exif_tiff(gps={**GPS, **changes})).position
    assert told == Position(-54.51, -3.25, -12.0)


def test_a_height_over_nothing_is_absent(tmp_path: Path) -> None:
    told = facts_of(tmp_path, exif_tiff(gps={**GPS, 6: ratio(12, 0)})).position
    assert told is not None
    assert told.altitude_m is None


# --- texts -----------------------------------------------------------------------------------


def test_texts_lose_padding_and_nothing_else(tmp_path: Path) -> None:
    facts = exif_facts(tmp_path, xA434=(ASCII, "  <b>24–70\x1b[31m  \0junk"))
    assert facts.lens.model == "<b>24–70\x1b[31m"


def test_texts_are_cut_to_a_sensible_length(tmp_path: Path) -> None:
    model = exif_facts(tmp_path, xA434=(ASCII, "x" * 900)).lens.model
    assert model == "x" * 200


def test_text_that_is_no_utf8_can_be_encoded(tmp_path: Path) -> None:
    model = exif_facts(tmp_path, xA434=(ASCII, b"Brackwell \xe9\xff f/4\0")).lens.model
    assert model is not None
    assert model.encode("utf-8").startswith(b"Brackwell ")


@pytest.mark.parametrize("lens", ["----", "- / -", "N/A", "Unknown", "none"])
def test_a_lens_that_is_none_has_no_name(tmp_path: Path, lens: str) -> None:
    assert exif_facts(tmp_path, xA434=(ASCII, lens)).lens.model is None


@pytest.mark.parametrize(
    ("serial", "told"), [("0000000", None), ("0", None), ("0070", "0070"), ("A0", "A0")]
)
def test_a_serial_number_of_zeros_is_none(tmp_path: Path, serial: str, told: str | None) -> None:
    """Two bodies that write zeros are not one."""
    assert exif_facts(tmp_path, xA431=(ASCII, serial)).camera.serial == told


def test_blank_texts_are_absent(tmp_path: Path) -> None:
    assert exif_facts(tmp_path, xA431=(ASCII, "     ")).camera.serial is None


# --- files -----------------------------------------------------------------------------------


def test_a_file_of_another_kind_gives_no_facts(tmp_path: Path) -> None:
    assert facts_of(tmp_path, b"anything at all" * 9, "contax") == FileFacts()


def test_real_nef_is_told() -> None:
    facts = read_facts(real_file("truncated.nef").read_bytes(), "tiff")
    assert facts.captured_at == "2013-09-03T09:45:16.40"
    assert (facts.exposure.nominal_time_s, facts.exposure.time_s) == (10 / 300, 1 / 32)
    assert (facts.exposure.f_number, facts.exposure.iso, facts.lens.focal_mm) == (8.0, 100, 50.0)


def test_real_arw_is_told_with_its_place() -> None:
    facts = read_facts(real_file("opens-but-zeros.arw").read_bytes(), "tiff")
    assert facts.lens.model == "DT 18-200mm F3.5-6.3"
    assert facts.position is not None
    assert facts.position.altitude_m == pytest.approx(1199.9)


def test_real_old_compact_holds_no_iso_in_its_metadata() -> None:
    facts = read_facts(real_file("compact-1996.kdc").read_bytes(), "tiff")
    assert (facts.exposure.iso, facts.exposure.f_number) == (None, 2.5)
    assert facts.captured_at == "1994-01-01T14:40:06"
