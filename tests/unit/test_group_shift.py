"""How far a refined shift may go from where the pictures are most alike."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import ndimage

from auditor.group.shift import refined
from auditor.group.structure import Structure
from auditor.model.arrays import F32

EMPTY = np.zeros((1, 1), np.complex64)


def structure(values: F32) -> Structure:
    steps = np.zeros(values.shape[0] - 1, np.float32)
    return Structure(values, np.ones_like(values), (EMPTY, EMPTY, EMPTY), steps)


def texture(seed: int, stops: float = 0.4) -> F32:
    rng = np.random.default_rng(seed)
    smooth = ndimage.gaussian_filter(rng.standard_normal((64, 96)).astype(np.float32), 2.5)
    return np.asarray(smooth * np.float32(stops / float(smooth.std())))


def shifted(values: F32, right: float) -> F32:
    return np.asarray(ndimage.shift(values, (0.0, right), order=3, mode="nearest"))


def test_a_shift_is_refined_by_parts_of_a_tile() -> None:
    before = texture(1)
    fine = refined(structure(before), structure(shifted(before, 0.4)), (0.0, 0.2), (0, 0))
    assert fine == pytest.approx((0.0, 0.4), abs=0.03)


def test_a_refinement_that_leaves_the_tile_of_the_peak_is_refused() -> None:
    before = texture(1)
    after = structure(shifted(before, 0.9))
    assert refined(structure(before), after, (0.0, 0.3), (0, 0)) == (0.0, 0.3)
    assert refined(structure(before), after, (0.0, 0.7), (0, 1)) == pytest.approx(
        (0.0, 0.9), abs=0.03
    )


def test_a_refinement_that_makes_the_pictures_less_alike_is_refused() -> None:
    """Many faint tiles draw the fit to the right; what is plain to see went to the left."""
    faint, strong = texture(1, 0.2), texture(2, 1.4)
    few = np.zeros(faint.shape, bool)
    few[:, 30:40] = True
    before = np.where(few, strong, faint)
    after = np.where(few, shifted(strong, -1.5), shifted(faint, 0.5))
    rough = (0.0, -0.3)
    assert refined(structure(before), structure(after), rough, (0, 0)) == rough
