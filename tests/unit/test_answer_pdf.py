"""The page of answers: one sheet of A4 that can be read, says what the audit says, runs nothing.

Checked on the file itself and, where the tools are there, as poppler's own reader renders it.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import zlib
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from auditor.model.advice import FilterVerdict
from auditor.model.audit import Audit
from auditor.model.codes import Cast
from auditor.model.shoot import MeasurementSource
from auditor.report.answer_pdf import build_answer
from auditor.report.page import build_page
from auditor.report.style import CARD, INK
from auditor.words.kinds import KINDS
from auditor.words.page import filter_line
from tests.builders import DictMeasurementSource, make_audit
from tests.built_hostile import POISON

Made = tuple[Audit, DictMeasurementSource]
POINTS_A4 = (595.3, 841.9)
"""A4, 210 mm by 297 mm (ISO 216), in points of 1/72 inch."""

needs_poppler = pytest.mark.skipif(
    not (shutil.which("pdftotext") and shutil.which("pdftoppm")),
    reason="pdftotext and pdftoppm (poppler-utils) are not here to read the page",
)


def answered(audit: Audit, measurements: MeasurementSource) -> bytes:
    return build_answer(audit, build_page(audit, KINDS), measurements)


@pytest.fixture(scope="module")
def plain() -> Made:
    return make_audit(26)


@pytest.fixture(scope="module")
def written(plain: Made, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("answer") / "answer.pdf"
    path.write_bytes(answered(*plain))
    return path


def read(path: Path, *options: str) -> str:
    command = ["pdftotext", *options, str(path), "-"]
    return subprocess.run(command, check=True, capture_output=True, encoding="utf-8").stdout


def words_of(text: str) -> str:
    return " ".join(text.split())


@needs_poppler
def test_it_is_one_sheet_of_a4_and_every_text_lies_on_it(written: Path) -> None:
    pages = re.findall(r'<page width="([\d.]+)" height="([\d.]+)"', read(written, "-bbox"))
    assert len(pages) == 1
    assert [float(side) for side in pages[0]] == pytest.approx(POINTS_A4, abs=0.5)
    boxes = re.findall(
        r'<word xMin="([\d.-]+)" yMin="([\d.-]+)" xMax="([\d.-]+)" yMax="([\d.-]+)"',
        read(written, "-bbox"),
    )
    assert len(boxes) > 150
    for box in boxes:
        left, top, right, bottom = map(float, box)
        assert left >= 40
        assert top >= 20
        assert right <= POINTS_A4[0] - 40
        assert bottom <= POINTS_A4[1] - 10


def test_no_text_is_smaller_than_six_points(written: Path) -> None:
    streams = re.findall(rb"stream\r?\n(.*?)\r?\nendstream", written.read_bytes(), re.DOTALL)
    drawn = b""
    for stream in streams:
        try:
            drawn += zlib.decompress(stream)
        except zlib.error:
            continue
    # PDF 32000-1, 9.3.1: Tf sets font and size; nothing here scales the page.
    sizes = {float(size) for size in re.findall(rb"/F\d+ ([\d.]+) Tf", drawn)}
    assert sizes
    assert min(sizes) >= 6.0


@needs_poppler
def test_it_says_what_the_audit_says(plain: Made, written: Path) -> None:
    audit, _gallery = plain
    page = build_page(audit, KINDS)
    text = words_of(read(written, "-raw"))
    told = [page.when, page.where, "Largest losses", "Next time", "Filters found", "Keep"]
    told += [f"{tally.text}" for tally in page.outcomes]
    told += [page.by_id[frame].name for frame in page.losses]
    told += [lesson.text for lesson in page.lessons[:5]]
    told += [filter_line(verdict) for verdict in audit.filters]
    told += [*page.lesson_cautions[:2], page.made]
    assert [words for words in told if words_of(words) not in text] == []


@needs_poppler
def test_the_largest_losses_are_pictures_with_the_patch_ringed(
    plain: Made, written: Path, tmp_path: Path
) -> None:
    audit, measurements = plain
    bare = tmp_path / "bare.pdf"
    unringed = tuple(
        replace(frame, largest_blown_area=None, largest_blocked_area=None) for frame in audit.frames
    )
    bare.write_bytes(answered(replace(audit, frames=unringed), measurements))
    rendered = []
    for path in (written, bare):
        target = tmp_path / path.stem
        command = ["pdftoppm", "-r", "72", "-png", "-singlefile", str(path), str(target)]
        subprocess.run(command, check=True)
        rendered.append(np.asarray(Image.open(f"{target}.png").convert("L"), dtype=float))
    upper = slice(150, 420)
    inside = rendered[0][upper]
    assert ((inside > INK[0] + 10) & (inside < CARD[0] - 30)).mean() > 0.2, "there are pictures"
    assert (np.abs(rendered[0] - rendered[1])[upper] > 40).sum() > 100, "there are rings"


def test_it_is_the_same_each_time(plain: Made, written: Path) -> None:
    assert answered(*plain) == written.read_bytes()


@needs_poppler
@pytest.mark.parametrize("length", [1, 40])
def test_hostile_texts_stay_texts_on_one_page(tmp_path: Path, length: int) -> None:
    audit, measurements = make_audit(26, hostile=True)
    lessons = tuple(
        replace(lesson, text=f"{poison} " * length)
        for lesson, poison in zip(audit.lessons * 5, POISON, strict=False)
    )
    path = tmp_path / "answer.pdf"
    content = answered(replace(audit, lessons=lessons), measurements)
    path.write_bytes(content)
    for active in (b"/JavaScript", b"/JS", b"/URI", b"/Launch", b"/OpenAction", b"/Subtype /Link"):
        assert active not in content
    bounds = read(path, "-bbox")
    assert bounds.count("<page ") == 1
    rights = [float(right) for right in re.findall(r'xMax="([\d.-]+)"', bounds)]
    assert max(rights) <= POINTS_A4[0] - 30


@pytest.mark.parametrize("change", ["frames", "lessons", "everything"])
def test_an_audit_of_little_makes_a_page_too(plain: Made, change: str) -> None:
    audit, measurements = plain
    empty: dict[str, Callable[[], Audit]] = {
        "frames": lambda: replace(audit, frames=(), setups=(), keepers=(), brackets=()),
        "lessons": lambda: replace(audit, lessons=(), filters=(), grads=()),
        "everything": lambda: Audit("", "", "", audit.settings, (), ()),
    }
    assert answered(empty[change](), measurements).startswith(b"%PDF-")


def test_a_picture_that_is_gone_costs_only_itself(plain: Made) -> None:
    audit, _gallery = plain
    assert answered(audit, DictMeasurementSource({})).startswith(b"%PDF-")


@pytest.mark.parametrize(
    ("off", "spoken"),
    [(-0.3, "9.7 stops, 0.3 stop less than marked"), (0.02, "10.0 stops, as marked")],
)
def test_a_filter_is_told_with_its_distance_from_the_marking(off: float, spoken: str) -> None:
    verdict = FilterVerdict(
        name="10-stop filter", pairs=1, frames=("a",), stops=10 + off, spread_stops=None,
        cast_stops={}, cast=Cast.COOL, marking_stops=10.0, off_marking_stops=off,
    )  # fmt: skip
    assert filter_line(verdict) == f"10-stop filter: {spoken}; cool (1 pair)."
