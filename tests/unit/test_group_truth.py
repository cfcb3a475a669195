"""Confidence means accuracy: stated against found over all simulated pairs."""

from __future__ import annotations

import numpy as np
import pytest

from tests.pair_effects import ON_ANOTHER, UNSEEN
from tests.pair_truths import (
    BEGIN,
    CHANCES,
    CHANCES_END,
    END,
    OTHER_SEEDS,
    PAGE,
    PICTURE,
    SEEDS,
    SURE,
    SURE_END,
    SURE_FROM,
    WITHIN_CAST_STOPS,
    chances,
    measured,
    reliability,
    silent,
    sure_and_wrong,
    table,
)


@pytest.mark.parametrize("seeds", [SEEDS, OTHER_SEEDS], ids=["fitted by", "others"])
def test_no_long_frame_with_a_filter_is_passed_over(seeds: range) -> None:
    assert silent(seeds) == set()


@pytest.mark.parametrize("seeds", [SEEDS, OTHER_SEEDS], ids=["fitted by", "others"])
def test_what_is_called_sure_is_right(seeds: range) -> None:
    sure = [told for told in measured(seeds) if told.confidence >= SURE_FROM]
    assert len(sure) >= 60
    assert np.mean([told.right for told in sure]) >= 0.95


def test_what_was_looked_at_and_called_sure_is_wrong_only_where_nothing_tells_it() -> None:
    sure = [told for told in measured() if told.confidence >= SURE_FROM]
    assert {told.effect for told in sure if not told.right} <= set(UNSEEN)
    wrong = [t for t in measured() if abs(t.off_stops) > 0.15 and t.effect not in UNSEEN]
    assert max(told.confidence for told in wrong) <= 0.65, "a shutter of 1/2000 s, lamps"


@pytest.mark.parametrize("seeds", [SEEDS, OTHER_SEEDS], ids=["fitted by", "others"])
def test_what_is_wrong_is_not_called_sure(seeds: range) -> None:
    wrong = [t for t in measured(seeds) if abs(t.off_stops) > 0.15 and t.effect not in UNSEEN]
    assert len(wrong) >= 20, "effects that nothing can tell"
    assert np.mean([told.confidence for told in wrong]) <= 0.45
    assert np.mean([told.confidence >= SURE_FROM for told in wrong]) <= 0.05, "just whole stops off"


@pytest.mark.parametrize("seeds", [SEEDS, OTHER_SEEDS], ids=["fitted by", "others"])
def test_the_stated_chance_is_that_which_is_found(seeds: range) -> None:
    for stated, found, count in reliability(seeds):
        by_chance = 1.6 * np.sqrt(stated / count)
        assert stated - found <= 0.08 + by_chance, stated
        assert found - stated <= 0.15 + by_chance, "modest by more than is wise"
    all_of = measured(seeds)
    stated_all = np.mean([told.confidence for told in all_of])
    assert np.mean([told.right for told in all_of]) == pytest.approx(stated_all, abs=0.08)


@pytest.mark.parametrize("seeds", [SEEDS, OTHER_SEEDS], ids=["fitted by", "others"])
def test_higher_confidence_is_more_often_right(seeds: range) -> None:
    found = [found for _, found, count in reliability(seeds) if count >= 8]
    assert len(found) >= 4
    assert min(np.diff(found)) >= -0.1


def test_casts_are_true_wherever_the_figure_is_believed() -> None:
    every = measured() + measured(OTHER_SEEDS)
    believed = [t for t in every if t.confidence > 0.5]
    assert [t for t in believed if t.off_cast_stops > WITHIN_CAST_STOPS] == []
    wrong = {t.effect for t in every if t.off_cast_stops > WITHIN_CAST_STOPS}
    assert wrong >= set(ON_ANOTHER), "what a filter adds to another has the difference of casts"
    assert max(t.confidence for t in every if t.effect in ON_ANOTHER) <= 0.5


@pytest.mark.parametrize("seeds", [SEEDS, OTHER_SEEDS], ids=["fitted by", "others"])
def test_a_grad_on_the_unfiltered_frames_or_on_both_leaves_the_filter_what_it_is(
    seeds: range,
) -> None:
    names = ("a graduated filter on both", "a graduated filter on the short frames only")
    off = [abs(told.off_stops) for told in measured(seeds) if told.effect in names]
    assert len(off) == 2 * len(seeds)
    assert max(off) <= 0.02


def test_the_documentation_shows_what_is_measured() -> None:
    text = PAGE.read_text(encoding="utf-8")
    assert text.partition(BEGIN)[2].partition(END)[0].strip() == table(), (
        "stale: run python -m tests.pair_truths"
    )
    assert text.partition(CHANCES)[2].partition(CHANCES_END)[0].strip() == chances()
    assert text.partition(SURE)[2].partition(SURE_END)[0].strip() == sure_and_wrong()
    assert PICTURE.read_bytes().startswith(b"<?xml")
