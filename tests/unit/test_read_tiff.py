"""Values of a TIFF directory: whole, or not at all."""

from __future__ import annotations

import io
import struct

import pytest

from auditor.read.tiff import open_tiff, source_of

LONG, FLOAT, ACTIVE_AREA = 4, 11, 50829


def whole(kind: int, content: bytes) -> tuple[int, ...]:
    """Read one tag whose values lie behind the only directory."""
    entry = struct.pack("<HHII", ACTIVE_AREA, kind, len(content) // 4, 26)
    held = b"II*\0\x08\0\0\0" + struct.pack("<H", 1) + entry + b"\0\0\0\0" + content
    tiff = open_tiff(source_of(io.BytesIO(held)))
    assert tiff is not None
    first = tiff.first()
    assert first is not None
    return first.whole(ACTIVE_AREA)


def test_whole_numbers_are_told_whatever_their_type() -> None:
    assert whole(LONG, struct.pack("<4I", 0, 8, 48, 64)) == (0, 8, 48, 64)
    assert whole(FLOAT, struct.pack("<4f", 0, 8, 48, 64)) == (0, 8, 48, 64)


@pytest.mark.parametrize("odd", [0.5, float("nan"), float("inf")])
def test_one_value_that_is_not_whole_costs_all(odd: float) -> None:
    # left out by itself it would move the others to another place
    assert whole(FLOAT, struct.pack("<4f", 0, odd, 48, 64)) == ()
