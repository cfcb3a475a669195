"""The median of what is known is numpy's, of lines with and without gaps."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from auditor.model.arrays import median_known, median_of
from auditor.model.half_sample_mode import half_sample_mode, median_off


@settings(deadline=None)
@given(
    st.integers(1, 30), st.integers(1, 30), st.floats(0.0, 1.0), st.integers(0, 1),
    st.integers(0, 999),
)  # fmt: skip
def test_the_median_of_what_is_known(
    rows: int, cols: int, gaps: float, axis: int, seed: int
) -> None:
    draw = np.random.default_rng(seed)
    values = draw.normal(0.0, 3.0, (rows, cols)).astype(np.float32)
    values[draw.random(values.shape) < gaps] = np.nan
    found = median_known(values, axis)
    assert np.array_equal(np.isnan(found), np.isnan(values).all(axis=axis))
    some = np.isfinite(found)
    expected = np.nanmedian(np.compress(some, values, axis=1 - axis), axis=axis)
    assert found[some] == pytest.approx(expected, abs=1e-6)


@settings(deadline=None)
@given(st.integers(1, 30), st.integers(1, 30), st.sampled_from(["f4", "f8"]), st.integers(0, 999))
def test_the_median_is_numpys_to_the_last_digit(rows: int, cols: int, kind: str, seed: int) -> None:
    values = np.random.default_rng(seed).normal(0.0, 3.0, (rows, cols)).astype(kind)
    found = median_of(values)
    assert found == np.median(values)
    assert found.dtype == kind


@settings(deadline=None)
@given(st.integers(12, 300), st.integers(0, 999))
def test_the_core_of_values_that_agree_is_their_median(count: int, seed: int) -> None:
    values = np.random.default_rng(seed).uniform(-0.01, 0.01, count)
    core = half_sample_mode(values)
    assert core is not None
    assert core.value == pytest.approx(float(np.median(values)), abs=0.006)


@settings(deadline=None)
@given(st.integers(1, 80), st.floats(-4.0, 4.0), st.booleans(), st.integers(0, 999))
def test_distances_need_no_sorting(count: int, middle: float, alike: bool, seed: int) -> None:
    line = np.sort(np.random.default_rng(seed).normal(0.0, 1.0, count))
    line = np.round(line) if alike else line
    assert median_off(line, middle) == float(np.median(np.abs(line - middle)))
