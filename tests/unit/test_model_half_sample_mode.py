"""The robust location that filters are measured by."""

from __future__ import annotations

import numpy as np
import pytest

from auditor.model.half_sample_mode import half_sample_mode


def test_too_few_values_tell_nothing() -> None:
    assert half_sample_mode(np.arange(11.0)) is None
    assert half_sample_mode(np.full(100, np.nan)) is None


def test_a_clean_sample_gives_its_middle_and_spread() -> None:
    core = half_sample_mode(np.random.default_rng(1).normal(6.0, 0.02, 4000))
    assert core is not None
    assert core.value == pytest.approx(6.0, abs=0.003)
    assert core.spread == pytest.approx(0.02, abs=0.008)
    assert core.count > 0.98 * core.of


@pytest.mark.parametrize("still", [0.1, 0.15, 0.3])
def test_what_moves_does_not_pull_the_value(still: float) -> None:
    rng = np.random.default_rng(2)
    count = round(4000 * still)
    rest = 4000 - count
    waves = 6.4 + 0.5 * rng.standard_normal(rest) + 0.3 * rng.exponential(1.0, rest)
    values = np.concatenate([rng.normal(6.0, 0.01, count), waves])
    core = half_sample_mode(values)
    assert core is not None
    assert core.value == pytest.approx(6.0, abs=0.02)
    assert np.median(values) > 6.2, "where the median would have landed"


def test_equal_values_are_their_own_core() -> None:
    core = half_sample_mode(np.full(50, 2.5))
    assert core is not None
    assert (core.value, core.count, core.of) == (2.5, 50, 50)
