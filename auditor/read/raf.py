"""The black levels that a RAF file holds for each place of its pattern.

The decoder keeps only the least of the 36 levels of an X-Trans sensor. They lie in a directory
(tag 0xF000, then 0xF00A) of the TIFF stream that holds the pixels; layout after the published
tag tables.
"""

from __future__ import annotations

import struct

import numpy as np

from auditor.model.arrays import F64
from auditor.read.tiff import OutOfBounds, open_tiff, source_in

_PIXELS_AT = 100
_DIRECTORY, _BLACK = 0xF000, 0xF00A
_SHAPES = {36: (6, 6), 4: (2, 2)}


def raf_black(data: bytes) -> F64 | None:
    """Return the levels, 6 x 6 or 2 x 2 from the top-left visible pixel; None if not told."""
    try:
        source = source_in(data)
        offset, length = struct.unpack(">II", source.read(_PIXELS_AT, 8))
        tiff = open_tiff(source.window(offset, min(length, source.size - offset)))
        first = tiff.first() if tiff else None
        if tiff is None or first is None:
            return None
        own = tiff.directory(first.offset(_DIRECTORY))
        levels = own.numbers(_BLACK, 36) if own is not None else ()
    except (OutOfBounds, struct.error):
        return None
    if len(levels) not in _SHAPES or not all(0 <= level < 65536 for level in levels):
        return None
    return np.array(levels, dtype=np.float64).reshape(_SHAPES[len(levels)])
