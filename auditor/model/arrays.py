"""Names for the array types that records carry, and for the bytes of a file."""

from __future__ import annotations

from typing import Any, TypeAlias, TypeVar

import numpy as np
from numpy.typing import NDArray

U8: TypeAlias = NDArray[np.uint8]
U16: TypeAlias = NDArray[np.uint16]
U32: TypeAlias = NDArray[np.uint32]
I32: TypeAlias = NDArray[np.int32]
I64: TypeAlias = NDArray[np.int64]
F32: TypeAlias = NDArray[np.float32]
F64: TypeAlias = NDArray[np.float64]
Bool: TypeAlias = NDArray[np.bool_]
FileBytes: TypeAlias = bytes | bytearray
Scalar = TypeVar("Scalar", bound=np.generic)

MAD_TO_SIGMA = 1.4826
"""Standard deviation over the median absolute deviation of a normal law, 1 / Phi^-1(3/4)."""


def median_of(values: NDArray[Any]) -> Any:
    """Return the median of numbers, at least one and none of them NaN.

    As :func:`numpy.median`, which takes five times as long over the few tiles that are asked.
    """
    line, half = values.ravel(), values.size // 2
    parted = np.partition(line, half)
    if values.size % 2:
        return parted[half]
    return (parted[:half].max() + parted[half]) / 2


def median_known(values: NDArray[Any], axis: int) -> NDArray[Any]:
    """Return the median along an axis of what is a number; NaN where nothing is.

    As :func:`numpy.nanmedian`, which takes ten times as long over the short lines of tiles.
    """
    ordered = np.sort(values, axis=axis)  # what is no number comes last
    count = np.expand_dims(np.isfinite(values).sum(axis=axis), axis)
    low = np.take_along_axis(ordered, np.maximum(0, (count - 1) // 2), axis=axis)
    high = np.take_along_axis(ordered, count // 2, axis=axis)
    middle: NDArray[Any] = ((low + high) / 2).squeeze(axis)
    return middle
