"""What the decoder may add to the metadata, and what it may not."""

from __future__ import annotations

from datetime import datetime

import pytest

from auditor.model.codes import TimeSource
from auditor.model.facts import ExposureFacts, FileFacts, LensFacts
from auditor.read.decoded import DecoderFacts, complete_facts, white_balance
from tests.told import said

TOLD = DecoderFacts(
    iso=84.0,
    time_s=0.0198000003,
    f_number=2.7999999,
    focal_mm=37.0,
    lens="Brackwell 24-70 mm f/4\0",
    moment=datetime(2031, 9, 14, 18, 42, 7),
    flip=6,
    white_balance=(2528.0, 1024.0, 1564.0, 1024.0),
)


def test_gaps_are_filled_and_told() -> None:
    facts = complete_facts(FileFacts(), TOLD)
    assert (facts.exposure.iso, facts.exposure.f_number) == (84.0, 2.8)
    assert (facts.exposure.nominal_time_s, facts.lens.focal_mm) == (0.0198, 37.0)
    assert (facts.lens.model, facts.orientation) == ("Brackwell 24-70 mm f/4", 6)
    assert facts.captured_at == "2031-09-14T18:42:07"
    assert said(facts.remarks) == (
        "Not in the metadata, from the decoder: ISO, shutter time, f-number, focal length, lens, "
        "time."
    )


def test_what_the_metadata_hold_stands() -> None:
    known = FileFacts(
        exposure=ExposureFacts(time_s=2.0, time_source=TimeSource.APEX, f_number=8.0, iso=100.0),
        lens=LensFacts(model="own", focal_mm=50.0),
        captured_at="2001-01-01T00:00:00",
        orientation=1,
        white_balance={"R": 2.0, "G": 1.0, "B": 1.5},
    )
    assert complete_facts(known, TOLD) == known


@pytest.mark.parametrize(
    "told",
    [
        DecoderFacts(),
        DecoderFacts(time_s=1.0, f_number=1.0),
        DecoderFacts(iso=float("nan"), time_s=float("inf"), f_number=-2.0),
        DecoderFacts(moment=datetime(1970, 1, 1)),
        DecoderFacts(white_balance=(0.0, 1.0, 0.0, 0.0)),
        DecoderFacts(lens=" \0 "),
    ],
)
def test_invented_and_empty_values_are_refused(told: DecoderFacts) -> None:
    assert complete_facts(FileFacts(), told) == FileFacts()


@pytest.mark.parametrize(("flip", "orientation"), [(0, None), (3, 3), (5, 8), (6, 6)])
def test_turns_are_translated(flip: int, orientation: int | None) -> None:
    assert complete_facts(FileFacts(), DecoderFacts(flip=flip)).orientation == orientation


def test_balance_has_green_one() -> None:
    assert white_balance((2528.0, 1024.0, 1564.0, 0.0)) == {
        "R": 2528 / 1024,
        "G": 1.0,
        "B": 1564 / 1024,
    }
