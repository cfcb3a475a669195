"""One rule for the cast of a filter: its name, its finding and its line in the report agree."""

from __future__ import annotations

from dataclasses import replace

import pytest

from auditor.findings.base import ShootView
from auditor.group.pair_findings import find_filter_cast
from auditor.light.filters import cast_word, nearest_marking, strongest_cast
from auditor.model.audit import SiblingPair
from auditor.model.grouping import Grouping
from auditor.model.settings import Settings
from auditor.words import values as words
from auditor.words.findings import with_words

CASTS = [
    (-0.1, 0.1, "warm"), (0.1, -0.1, "cool"), (0.2, 0.2, "green"), (-0.2, -0.2, "magenta"),
    (0.02, -0.03, "neutral"), (0.0, 0.0, "neutral"), (-0.10, -0.09, "magenta"),
    (5.70 - 5.80, 5.70 - 5.80, "magenta"), (-0.0996, -0.01, "warm"), (-0.094, -0.09, "neutral"),
]  # fmt: skip
PAIR = SiblingPair("s1", "short", "long", 6.0, 6.0, {}, {}, None, nearest_marking(6.0), 0.0, 1.0,
                   0.0, 0.9, ())  # fmt: skip


@pytest.mark.parametrize(("red", "blue", "word"), CASTS)
def test_words_for_casts(red: float, blue: float, word: str) -> None:
    assert cast_word({"R": red, "B": blue}) == word


@pytest.mark.parametrize(("red", "blue", "word"), CASTS)
def test_finding_report_and_name_agree(red: float, blue: float, word: str) -> None:
    casts = {"R": red, "B": blue}
    grouping = Grouping(siblings=(replace(PAIR, cast_stops=casts),))
    found = [
        with_words(told).text for _, told in find_filter_cast(ShootView({}, grouping, Settings()))
    ]
    assert words.cast(casts).endswith("neutral") == (word == "neutral") == (not found)
    assert all(text.endswith(f"a {word} cast.") for text in found)


def test_a_mono_body_has_no_cast() -> None:
    assert strongest_cast({}) is None
    assert cast_word({}) == "neutral"
