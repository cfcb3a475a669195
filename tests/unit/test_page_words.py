"""Single figures in words."""

from __future__ import annotations

import pytest

from auditor.model.audit import Marking
from auditor.model.codes import TimeSource
from auditor.model.facts import ExposureFacts
from auditor.model.numbers import counted, counted_stops
from auditor.model.text import listed
from auditor.words import values as words


@pytest.mark.parametrize(
    ("stops", "text"),
    [
        (1.44, "1.4 stops"),
        (1.0, "1.0 stop"),
        (-0.26, "−0.3 stop"),
        (0.04, "0.0 stops"),
        (None, "–"),
    ],
)
def test_stops_carry_their_noun(stops: float | None, text: str) -> None:
    assert counted_stops(stops) == text


@pytest.mark.parametrize(
    ("exposure", "text"),
    [
        (ExposureFacts(1 / 128, TimeSource.APEX, 1 / 125, 11.0, 100.0), "1/125 s · f/11 · ISO 100"),
        (ExposureFacts(256.0, TimeSource.APEX, None, None, 64.0), "4 min 16 s · ISO 64"),
        (ExposureFacts(), "exposure not recorded"),
    ],
)
def test_exposure_is_said_as_the_camera_says_it(exposure: ExposureFacts, text: str) -> None:
    assert words.exposure_line(exposure) == text


@pytest.mark.parametrize(
    ("cast", "text"),
    [
        ({"R": -0.22, "B": 0.16}, "R −0.22, B +0.16: the picture turns warmer"),
        ({"R": 0.3, "B": 0.0}, "R +0.30, B 0.00: the picture turns cooler"),
        ({"R": 0.02, "B": -0.03}, "R +0.02, B −0.03: neutral"),
        ({"R": -0.1, "B": -0.09}, "R −0.10, B −0.09: the picture turns more magenta"),
        ({"R": 0.2, "B": 0.15}, "R +0.20, B +0.15: the picture turns greener"),
        ({}, "–"),
    ],
)
def test_blue_held_back_more_than_red_is_warmer(cast: dict[str, float], text: str) -> None:
    assert words.cast(cast) == text


def test_marking_is_told_in_stops_density_and_factor() -> None:
    assert words.marking(Marking(6.0, 1.8, 64.0)) == "6 stops, density 1.8, ×64"
    assert words.marking(Marking(1.0, 0.3, 2.0)) == "1 stop, density 0.3, ×2"
    assert words.marking(Marking(6.0, 1.8, 64.0, "six")) == "six"


@pytest.mark.parametrize(("value", "text"), [(0.3, "0.3 stop more"), (-1.2, "1.2 stops less")])
def test_differences_say_which_way(value: float, text: str) -> None:
    assert words.over_under(value, over="more", under="less") == text


def test_texts_from_outside_are_bounded_and_plain() -> None:
    assert len(words.plain("W" * 9000)) == words.LONGEST_TEXT
    assert words.plain("a\u202eb\x00\n") == "a\\u202eb\\u0000\\u000a"
    assert words.plain("e" + "\u0301" * 50) == "e\u0301\u0301\u0301…"
    assert words.plain(None) == ""


@pytest.mark.parametrize(
    ("parts", "text"),
    [([], ""), (["a"], "a"), (["a", "b"], "a and b"), (["a", "b", "c"], "a, b and c")],
)
def test_lists_are_joined_as_one_says_them(parts: list[str], text: str) -> None:
    assert listed(parts) == text


def test_counts_agree_with_their_noun() -> None:
    assert [counted(n, "frame") for n in (0, 1, 2)] == ["no frames", "1 frame", "2 frames"]
    assert counted(2000, "frame") == "2,000 frames"


@pytest.mark.parametrize(
    ("value", "word"), [(1.0, "high"), (0.8, "high"), (0.5, "fair"), (0.49, "low")]
)
def test_confidence_is_told_in_a_word(value: float, word: str) -> None:
    assert words.sureness(value) == word
