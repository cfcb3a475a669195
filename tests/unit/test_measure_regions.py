"""Connected patches in maps of shares."""

from __future__ import annotations

import numpy as np
import pytest

from auditor.measure.regions import largest_patch


def test_the_largest_patch_with_its_share_centre_and_box() -> None:
    shares = np.zeros((10, 20), dtype=np.float32)
    shares[2:4, 5:9] = 1.0
    shares[7, 15] = 1.0
    patch = largest_patch(shares, 0.5)
    assert patch is not None
    assert patch.share == pytest.approx(8 / 200)
    assert patch.centre == pytest.approx((7 / 20, 3 / 10))
    assert patch.box == pytest.approx((5 / 20, 2 / 10, 9 / 20, 4 / 10))


def test_tiles_under_the_threshold_belong_to_no_patch() -> None:
    shares = np.full((4, 4), 0.4, dtype=np.float32)
    assert largest_patch(shares, 0.5) is None
    shares[1, 1] = 0.5
    patch = largest_patch(shares, 0.5)
    assert patch is not None
    assert patch.share == pytest.approx(0.5 / 16)


def test_tiles_that_meet_at_a_corner_belong_together() -> None:
    patch = largest_patch(np.eye(6, dtype=np.float32), 0.5)
    assert patch is not None
    assert patch.share == pytest.approx(6 / 36)
    assert patch.box == (0.0, 0.0, 1.0, 1.0)


def test_a_small_full_patch_outweighs_a_larger_faint_one() -> None:
    shares = np.zeros((6, 12), dtype=np.float32)
    shares[:, :5] = 0.1
    shares[2:5, 8:10] = 1.0
    patch = largest_patch(shares, 0.05)
    assert patch is not None
    assert patch.centre[0] == pytest.approx(0.75)


def test_the_centre_leans_to_where_more_is_blown() -> None:
    patch = largest_patch(np.array([[1.0, 0.5]], dtype=np.float32), 0.25)
    assert patch is not None
    assert patch.centre[0] == pytest.approx((0.25 * 1.0 + 0.75 * 0.5) / 1.5)
