"""Connected patches in maps of shares."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import ndimage

from auditor.clipping.patches import connected, largest_patch


def test_the_largest_patch_with_its_share_centre_and_box() -> None:
    shares = np.zeros((10, 20), dtype=np.float32)
    shares[2:4, 5:9] = 1.0
    shares[7, 15] = 1.0
    patch = largest_patch(shares, 0.5)
    assert patch is not None
    assert patch.share == pytest.approx(8 / 200)
    assert patch.centre == pytest.approx((7 / 20, 3 / 10))
    assert patch.box == pytest.approx((5 / 20, 2 / 10, 9 / 20, 4 / 10))


def test_without_a_core_there_is_no_patch() -> None:
    assert largest_patch(np.full((4, 4), 0.4, dtype=np.float32), 0.5) is None


def test_what_lies_in_the_tiles_around_belongs_to_the_patch() -> None:
    shares = np.zeros((4, 8), dtype=np.float32)
    shares[1, 1] = 0.5
    shares[0:3, 2] = 0.2
    shares[3, 7] = 0.4
    patch = largest_patch(shares, 0.5)
    assert patch is not None
    assert patch.share == pytest.approx((0.5 + 3 * 0.2) / 32)
    assert patch.box == pytest.approx((1 / 8, 0.0, 3 / 8, 3 / 4))


def test_another_patch_is_no_rim() -> None:
    shares = np.array([[1.0, 1.0, 0.3, 0.6]], dtype=np.float32)
    patch = largest_patch(shares, 0.5)
    assert patch is not None
    assert patch.share == pytest.approx(2.3 / 4)


def test_tiles_at_the_edge_count_for_what_they_cover() -> None:
    shares = np.array([[0.0, 1.0, 1.0]], dtype=np.float32)
    patch = largest_patch(shares, 0.5, np.array([[0.4, 0.4, 0.2]]))
    assert patch is not None
    assert patch.share == pytest.approx(0.6)


def test_a_disc_is_as_large_as_it_is() -> None:
    # the area of a circle, in tiles: what is counted in cells finer than a tile
    fine = np.hypot(*(np.indices((240, 240)) - 119.5)) < 42.0
    shares = fine.reshape(12, 20, 12, 20).mean(axis=(1, 3)).astype(np.float32)
    patch = largest_patch(shares, 0.5)
    assert patch is not None
    assert patch.share == pytest.approx(np.pi * 42.0**2 / 240**2, rel=0.02)


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


@settings(deadline=None)
@given(
    seed=st.integers(0, 1000),
    shape=st.tuples(st.integers(1, 40), st.integers(1, 40)),
    filled=st.floats(0.0, 1.0),
)
def test_patches_are_those_of_the_library_of_images(
    seed: int, shape: tuple[int, int], filled: float
) -> None:
    # scipy.ndimage.label with the full structure; both number from the top left on
    core = np.random.default_rng(seed).random(shape) < filled
    labels, count = connected(core)
    expected, expected_count = ndimage.label(core, structure=np.ones((3, 3)))
    assert count == expected_count
    assert np.array_equal(labels, expected)


def test_a_winding_patch_is_one() -> None:
    core = np.zeros((64, 64), dtype=np.bool_)
    core[::2] = True
    core[1::4, -1] = core[3::4, 0] = True
    assert connected(core)[1] == 1
