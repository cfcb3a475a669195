"""On either side of every number that the figures of a frame are judged by."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from auditor.figures.channel import dark_end_dn
from tests.built_mosaics import histogram_of

FLOOR_DN = 10.0


def plane(tone_dn: float, dark_dn: float) -> Any:
    """A plane of one tone, two in a hundred of its pixels darker; black is 0."""
    values = np.full(1000, tone_dn)
    values[:20] = dark_dn
    measured = SimpleNamespace(histogram=histogram_of(values.astype(np.int64)), black_dn=0.0)
    return SimpleNamespace(measured=measured, floor_dn=FLOOR_DN)


@pytest.mark.parametrize(("floors", "end_dn"), [(3.4, 100.0), (4.6, 46.0)])
def test_near_the_floor_the_dark_end_is_that_of_local_means(floors: float, end_dn: float) -> None:
    tiles, weights = np.full((4, 4), 100.0, np.float32), np.full((4, 4), 1 / 16)
    found = dark_end_dn(plane(100.0, floors * FLOOR_DN), tiles, weights, 0.01)
    assert found == pytest.approx(end_dn, abs=1.0)
