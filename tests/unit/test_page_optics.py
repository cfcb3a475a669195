"""Depth of field and diffraction in the sheet, with the formula and the reasons."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import datetime

import pytest

from auditor.model.audit import FrameResult
from auditor.model.facts import LensFacts
from auditor.words.optics import distance, optics_facts
from tests.evenings import ZONE, frame_at
from tests.told import frame_optics

FRAME = frame_at("S.dng", datetime(2031, 9, 14, 19, tzinfo=ZONE))


def facts_of(frame: FrameResult) -> dict[str, tuple[str, str]]:
    told = replace(frame, optics=frame_optics(frame))
    return {fact.label: (fact.text, fact.remark) for fact in optics_facts(told)}


def test_hyperfocal_distance_and_diffraction_with_their_formulas() -> None:
    """35 mm at f/11 with c = 0.012586 mm: 8848 mm and the focal length more (worked by hand)."""
    told = facts_of(FRAME)
    assert told["Hyperfocal distance"] == (
        "8.9 m: focused there, sharp from 4.4 m to infinity",
        "H = f²/(N c) + f with c = 0.013 mm (2.9 pixels); c = viewing distance × tan 1′ / "
        "enlargement, a pixel at least",
    )
    text, formula = told["Diffraction"]
    assert text == "Airy disk 14.8 µm over pixels of 4.39 µm: 3.4 of them"
    assert formula == "d = 2.44 λ N with λ = 550 nm; two pixels wide from f/6.5 on"
    assert told["Depth of field"] == ("not known", "The file does not tell the focus distance.")


def test_a_known_focus_distance_tells_near_and_far() -> None:
    lens = replace(FRAME.lens, focus_distance_m=2.0)
    text, formula = facts_of(replace(FRAME, lens=lens))["Depth of field"]
    assert text == "1.6 m to 2.6 m, focused at s = 2 m"
    assert formula.startswith("near = s (H − f)")
    assert "far = s (H − f)" in formula


def test_from_the_hyperfocal_distance_on_it_reaches_infinity() -> None:
    lens = replace(FRAME.lens, focus_distance_m=10.0)
    text, formula = facts_of(replace(FRAME, lens=lens))["Depth of field"]
    assert text == "4.7 m to infinity, focused at s = 10 m"
    assert "far" not in formula


def test_what_is_not_known_has_a_reason() -> None:
    told = facts_of(replace(FRAME, lens=LensFacts()))
    assert told["Depth of field"][0] == "not known"
    assert "does not tell the focal length" in told["Depth of field"][1]
    assert told["Diffraction"][0] == "Airy disk 14.8 µm"
    bare = facts_of(replace(FRAME, exposure=replace(FRAME.exposure, f_number=None)))
    assert "Diffraction" not in bare
    assert "f-number" in bare["Depth of field"][1]
    assert list(optics_facts(replace(FRAME, optics=None))) == []


@pytest.mark.parametrize(
    ("metres", "text"),
    [(0.0885, "8.8 cm"), (0.88, "88 cm"), (0.999, "1 m"), (1.77, "1.8 m"), (17.6, "18 m"),
     (143.2, "140 m"), (1430.0, "1.4 km"), (123_456.0, "120 km"), (math.inf, "infinity")],
)  # fmt: skip
def test_distances_to_two_digits(metres: float, text: str) -> None:
    assert distance(metres) == text


def test_a_pixel_pitch_has_three_digits() -> None:
    """The pitch of 4.39 µm, over as many pixels as make it 11.99 µm."""
    size = FRAME.size
    assert size is not None
    few = replace(
        size, width=round(size.width * 4.39 / 11.99), height=round(size.height * 4.39 / 11.99)
    )
    assert "over pixels of 12 µm" in facts_of(replace(FRAME, size=few))["Diffraction"][0]
