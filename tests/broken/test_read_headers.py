"""Hostile headers: whatever the bytes, reading ends soon, and with facts or a told failure."""

from __future__ import annotations

import json
import struct
import time
from collections.abc import Callable
from dataclasses import asdict
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from auditor.model.facts import FileFacts
from auditor.read.card import find_files
from auditor.read.containers import raf_black
from auditor.read.dng.tags import read_dng
from auditor.read.exif import read_facts
from auditor.read.failures import ends_early
from auditor.read.kinds import kind_of
from tests.built_containers import (
    GPS,
    cr3_file,
    crw_file,
    exif_tiff,
    mrw_file,
    raf_file,
    x3f_file,
    x3f_picture,
    x3f_properties,
)
from tests.built_dng import ACTIVE, BLACK, BLACK_DIM, LONG, MASKED, RATIONAL, SHORT, flat, write_dng

SAMPLES: dict[str, bytes] = {
    "tiff": exif_tiff(gps=GPS),
    "cr3": cr3_file(),
    "raf": raf_file(exif_tiff(), tuple(range(1000, 1036))),
    "mrw": mrw_file(exif_tiff()),
    "x3f": x3f_file(
        [(b"IMA2", x3f_picture(exif_tiff())), (b"PROP", x3f_properties({"ISO": "100"}))]
    ),
    "crw": crw_file("Brackwell", "Brackwell F24", 1947177727),
}
ENDLESS_S = 10.0
"""Processor time; the crafted files once took minutes or for ever, now a fraction of a second."""

quickly = settings(max_examples=120, suppress_health_check=[HealthCheck.function_scoped_fixture])
edits = st.lists(st.tuples(st.floats(0, 1), st.integers(0, 255)), min_size=1, max_size=12)


def mutated(content: bytes, changes: list[tuple[float, int]], kept: float) -> bytes:
    """Overwrite bytes at relative places, then cut the end off."""
    held = bytearray(content)
    for place, value in changes:
        held[int(place * (len(held) - 1))] = value
    return bytes(held[: max(1, int(kept * len(held)))])


def read_all(path: Path, kind: str) -> FileFacts:
    """Everything that reads headers; any exception fails the test."""
    started = time.process_time()
    facts = read_facts(path.read_bytes(), kind)
    ends_early(path.read_bytes(), kind)
    raf_black(path.read_bytes())
    read_dng(path.read_bytes())
    with path.open("rb") as stream:
        kind_of(stream)
    found = find_files([str(path)])
    assert len(found.files) + len(found.problems) == 1
    assert time.process_time() - started < ENDLESS_S
    # what was read can be written down: no lone surrogates, nothing that is no number
    json.dumps(asdict(facts), allow_nan=False).encode("utf-8")
    assert facts.captured_at is None or facts.moment is not None
    return facts


@pytest.mark.parametrize("kind", SAMPLES)
@quickly
@given(changes=edits, kept=st.floats(0, 1) | st.just(1.0))
def test_mutated_headers(
    tmp_path: Path, kind: str, changes: list[tuple[float, int]], kept: float
) -> None:
    path = tmp_path / f"a.{kind}"
    path.write_bytes(mutated(SAMPLES[kind], changes, kept))
    read_all(path, kind)


@pytest.fixture(scope="module")
def dng(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    path = tmp_path_factory.mktemp("dng") / "a.dng"
    black = (BLACK, RATIONAL, [512.5] * 16)
    areas = (ACTIVE, LONG, (0, 8, 48, 64)), (MASKED, LONG, (0, 0, 48, 8))
    return write_dng(path, flat(), (BLACK_DIM, SHORT, (4, 4)), black, *areas).read_bytes()


@quickly
@given(changes=edits)
def test_mutated_dng_tags(tmp_path: Path, dng: bytes, changes: list[tuple[float, int]]) -> None:
    path = tmp_path / "a.dng"
    head = len(dng) - flat().nbytes
    path.write_bytes(mutated(dng[:head], changes, 1.0) + dng[head:])
    read_all(path, "dng")


@quickly
@given(content=st.binary(max_size=400), kind=st.sampled_from([*SAMPLES, "dng", "tiff", "other"]))
def test_any_bytes(tmp_path: Path, content: bytes, kind: str) -> None:
    path = tmp_path / "a.dng"
    path.write_bytes(content)
    read_all(path, kind)


def ifd(entries: list[tuple[int, int, int, int]], following: int = 0) -> bytes:
    table = b"".join(struct.pack("<HHII", *entry) for entry in entries)
    return struct.pack("<H", len(entries)) + table + struct.pack("<I", following)


def header(body: bytes) -> bytes:
    return b"II*\0\x08\0\0\0" + body


def ring_of_directories() -> bytes:
    return header(ifd([(271, 2, 4, 0x41414141)], following=8))


def ring_of_sub_directories() -> bytes:
    return header(ifd([(330, 4, 1, 8), (34665, 4, 1, 8), (34853, 4, 1, 8)]))


def endless_counts() -> bytes:
    wanted = (271, 272, 306, 33434, 33437, 34855, 37377, 50714, 50716, 50830, 51041, 37500)
    return header(ifd([(tag, 5, 0xFFFFFFFF, 8) for tag in wanted]))


def far_offsets() -> bytes:
    return header(ifd([(tag, 2, 900, 0xFFFFFF00) for tag in (271, 272, 306, 36867)]))


def crowded_directories() -> bytes:
    """65,535 entries, each of them wanted, each with a thousand values."""
    entry = struct.pack("<HHII", 33434, 5, 1000, 8)
    exif = struct.pack("<HHII", 34665, 4, 1, 8)
    return header(struct.pack("<H", 65535) + exif + entry * 65534 + b"\0" * 9000)


def many_sub_directories() -> bytes:
    """A fan of sub-directories that all lead to the same fan."""
    fan = struct.pack("<32I", *range(8, 8 + 32))
    return header(ifd([(330, 4, 32, 26)]) + fan + b"\x01\x00" * 2000)


def nested_boxes() -> bytes:
    return b"\0\0\0\x18ftypcrx \0\0\0\1crx isom" + b"\0\0\0\x08free" * 50_000


def jpeg_of_empty_segments() -> bytes:
    start = 160
    jpeg = b"\xff\xd8" + b"\xff\xe2\0\2" * 50_000
    head = b"FUJIFILMCCD-RAW ".ljust(84, b"\0") + struct.pack(">2I", start, len(jpeg))
    return head.ljust(start, b"\0") + jpeg


def pointers_that_are_no_numbers() -> bytes:
    """Pointers of type FLOAT that hold NaN and infinity."""
    nan, endless = 0x7FC00000, 0x7F800000
    tags = [(330, 11, 1, nan), (34665, 11, 1, endless), (34853, 11, 1, nan)]
    return header(ifd([*tags, (0xF000, 11, 1, nan)]))


def pointer_by_nothing_over_nothing() -> bytes:
    """An Exif pointer of type RATIONAL whose parts are both nothing."""
    beyond = 200
    return header(ifd([(34665, 5, 1, beyond)])).ljust(beyond + 8, b"\0")


def black_levels_behind_no_number() -> bytes:
    start = 160
    head = b"FUJIFILMCCD-RAW ".ljust(100, b"\0") + struct.pack(">2I", start, 200)
    return head.ljust(start, b"\0") + pointers_that_are_no_numbers().ljust(200, b"\0")


CRAFTED: list[tuple[str, Callable[[], bytes]]] = [
    ("tiff", ring_of_directories),
    ("tiff", ring_of_sub_directories),
    ("tiff", endless_counts),
    ("tiff", far_offsets),
    ("tiff", crowded_directories),
    ("dng", many_sub_directories),
    ("cr3", nested_boxes),
    ("raf", jpeg_of_empty_segments),
    ("tiff", pointers_that_are_no_numbers),
    ("cr2", pointers_that_are_no_numbers),
    ("tiff", pointer_by_nothing_over_nothing),
    ("raf", black_levels_behind_no_number),
]


@pytest.mark.parametrize(
    ("kind", "make"), CRAFTED, ids=[f"{kind}-{make.__name__}" for kind, make in CRAFTED]
)
def test_crafted_headers_end_soon(tmp_path: Path, kind: str, make: Callable[[], bytes]) -> None:
    path = tmp_path / f"a.{kind}"
    path.write_bytes(make())
    read_all(path, kind)


def test_one_odd_tag_does_not_cost_the_others(tmp_path: Path) -> None:
    content = bytearray(exif_tiff())
    # the exposure time's offset leads out of the file
    place = content.index(struct.pack("<HHI", 0x829A, 5, 1))
    content[place + 8 : place + 12] = b"\xff\xff\xff\x7f"
    (tmp_path / "a.tif").write_bytes(bytes(content))
    facts = read_facts((tmp_path / "a.tif").read_bytes(), "tiff")
    assert facts.exposure.nominal_time_s is None
    assert (facts.exposure.f_number, facts.camera.model) == (11.0, "Brackwell F45")
