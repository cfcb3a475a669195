"""Confidence means accuracy: stated against found over all simulated pairs."""

from __future__ import annotations

import numpy as np
import pytest

from tests.pair_truths import (
    BEGIN,
    CHANCES,
    CHANCES_END,
    EFFECTS,
    END,
    OTHER_SEEDS,
    PAGE,
    PICTURE,
    SEEDS,
    WITHIN_CAST_STOPS,
    chances,
    measured,
    reliability,
    table,
)


def test_no_long_frame_with_a_filter_is_passed_over() -> None:
    assert len(measured()) == len(EFFECTS) * len(SEEDS)


def test_what_is_called_sure_is_right() -> None:
    sure = [told for told in measured() if told.confidence >= 0.9]
    assert len(sure) >= 16
    assert np.mean([told.right for told in sure]) >= 0.9
    assert max(abs(told.off_stops) for told in sure) <= 0.15


def test_what_is_wrong_is_not_called_sure() -> None:
    wrong = [told for told in measured() if abs(told.off_stops) > 0.15]
    assert len(wrong) >= 12, "effects that nothing can tell"
    assert max(told.confidence for told in wrong) <= 0.5


def test_the_stated_chance_is_that_which_is_found() -> None:
    for stated, found, _ in reliability():
        assert found == pytest.approx(stated, abs=0.45), "few pairs a bin"
    stated_all = np.mean([told.confidence for told in measured()])
    assert np.mean([told.right for told in measured()]) == pytest.approx(stated_all, abs=0.1)


def test_on_pairs_that_nothing_was_fitted_by_it_is_found_as_well() -> None:
    others = measured(OTHER_SEEDS)
    assert len(others) == len(EFFECTS) * len(OTHER_SEEDS)
    stated, found = (
        np.mean([told.confidence for told in others]), np.mean([told.right for told in others])
    )  # fmt: skip
    assert found == pytest.approx(stated, abs=0.1)
    sure = [told for told in others if told.confidence >= 0.9]
    assert np.mean([told.right for told in sure]) >= 0.9


def test_casts_are_true_wherever_a_figure_stands() -> None:
    assert max(told.off_cast_stops for told in measured()) <= WITHIN_CAST_STOPS


def test_the_documentation_shows_what_is_measured() -> None:
    text = PAGE.read_text(encoding="utf-8")
    assert text.partition(BEGIN)[2].partition(END)[0].strip() == table(), (
        "stale: run python -m tests.pair_truths"
    )
    assert text.partition(CHANCES)[2].partition(CHANCES_END)[0].strip() == chances()
    assert PICTURE.read_bytes().startswith(b"<?xml")
