"""Uncompressed previews: any shape that a damaged header claims is read or left out."""

from __future__ import annotations

import numpy as np
import pytest

from auditor.read.preview import NoPreview, bitmap_preview


@pytest.mark.parametrize(
    "shape", [(0, 4, 3), (4, 0, 3), (0, 0, 3), (4, 4, 0), (4, 4, 2), (4, 4), (48,)]
)
def test_a_bitmap_of_an_impossible_shape_is_no_preview(shape: tuple[int, ...]) -> None:
    with pytest.raises(NoPreview, match="preview-damaged"):
        bitmap_preview(np.zeros(shape, dtype=np.uint8), 800)


def test_a_single_layer_is_shown_grey() -> None:
    found = bitmap_preview(np.full((4, 6, 1), 90, dtype=np.uint8), 3)
    assert found.pixels.tolist() == [[[90, 90, 90]] * 3] * 2


def test_sixteen_bits_become_eight() -> None:
    found = bitmap_preview(np.full((2, 2, 3), 0xABCD, dtype=np.uint16), 2)
    assert found.pixels.dtype == np.uint8
    assert set(found.pixels.flat) == {0xAB}
