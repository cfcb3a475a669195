"""Arrays as bytes: exactly, compactly, and quick to read back.

Bytes of equal weight lie together (all first bytes, then all second bytes ...), each such run
deflated where that saves enough. The high bytes of counts and of floating-point maps nearly
vanish so, while the low bytes, which are noise, are kept as they are and cost no time. Where
nearly all is zero, as in the shares of clipped pixels, only the rest is kept.
"""

from __future__ import annotations

import struct
import zlib
from typing import Any

import numpy as np
from numpy.typing import NDArray

LEVEL = 1
WORTH_DEFLATING = 0.75
"""A run is deflated only below this share of its size: reading is more frequent than writing."""
SPARSE_SHARE = 0.05
"""Below this share of values that are not zero, only those are kept, with their places."""
MOST_VALUES = 1 << 28
_PROBE = 4096
_DENSE, _SPARSE = 0, 1
_PLAIN, _DEFLATED, _CONSTANT = 0, 1, 2
_HEAD = struct.Struct("<BI")


def to_bytes(array: NDArray[Any]) -> bytes:
    """Pack the values of an array of plain numbers; dtype and shape are told elsewhere."""
    stored = np.ascontiguousarray(array, dtype=array.dtype.newbyteorder("<")).reshape(-1)
    bits = stored.view(f"<u{stored.itemsize}")
    places = np.flatnonzero(bits)
    if places.size < SPARSE_SHARE * bits.size:
        return bytes([_SPARSE]) + places.astype("<u4").tobytes() + bits[places].tobytes()
    weights = bits.view(np.uint8).reshape(-1, stored.itemsize)
    runs = [_run(weights[:, place].tobytes()) for place in range(stored.itemsize)]
    return bytes([_DENSE]) + b"".join(runs)


def from_bytes(packed: memoryview, dtype: np.dtype[Any], shape: tuple[int, ...]) -> NDArray[Any]:
    """Unpack what :func:`to_bytes` packed.

    Raises
    ------
    ValueError
        The bytes do not make such an array.
    """
    count = int(np.prod(shape, dtype=np.int64))
    if not 0 <= count <= MOST_VALUES or min(shape, default=0) < 0:
        raise ValueError(f"no array has the shape {shape}")
    if not packed:
        raise ValueError("bytes are missing")
    read = _sparse_bits if packed[0] == _SPARSE else _dense_bits
    little = read(packed[1:], count, dtype.itemsize).view(dtype.newbyteorder("<"))
    return little.astype(dtype, copy=False).reshape(shape)


def _sparse_bits(packed: memoryview, count: int, itemsize: int) -> NDArray[Any]:
    entries, rest = divmod(len(packed), 4 + itemsize)
    if rest:
        raise ValueError("bytes are missing")
    places = np.frombuffer(packed, dtype="<u4", count=entries)
    if entries and int(places.max()) >= count:
        raise ValueError("a place lies outside of the array")
    bits = np.zeros(count, dtype=f"<u{itemsize}")
    bits[places] = np.frombuffer(packed[4 * entries :], dtype=bits.dtype)
    return bits


def _dense_bits(packed: memoryview, count: int, itemsize: int) -> NDArray[Any]:
    weights = np.empty((count, itemsize), dtype=np.uint8)
    for place in range(itemsize):
        run, packed = _next_run(packed, count)
        weights[:, place] = np.frombuffer(run, dtype=np.uint8)
    if len(packed):
        raise ValueError("bytes are left over")
    return weights.reshape(-1)


def _run(values: bytes) -> bytes:
    if values and values.count(values[:1]) == len(values):
        return _HEAD.pack(_CONSTANT, 1) + values[:1]
    if _seems_worth_it(values):
        deflated = zlib.compress(values, LEVEL)
        if len(deflated) < WORTH_DEFLATING * len(values):
            return _HEAD.pack(_DEFLATED, len(deflated)) + deflated
    return _HEAD.pack(_PLAIN, len(values)) + values


def _seems_worth_it(values: bytes) -> bool:
    """Try a piece from the middle before deflating all of a long run in vain."""
    if len(values) <= 4 * _PROBE:
        return True
    middle = values[len(values) // 2 :][:_PROBE]
    return len(zlib.compress(middle, LEVEL)) < (1 + WORTH_DEFLATING) / 2 * len(middle)


def _next_run(packed: memoryview, count: int) -> tuple[bytes | memoryview, memoryview]:
    if len(packed) < _HEAD.size:
        raise ValueError("bytes are missing")
    kind, length = _HEAD.unpack(packed[: _HEAD.size])
    body, rest = packed[_HEAD.size :][:length], packed[_HEAD.size + length :]
    run = _inflated(body, count) if kind == _DEFLATED else body
    expected = 1 if kind == _CONSTANT else count
    if len(body) != length or len(run) != expected or kind > _CONSTANT:
        raise ValueError("the bytes do not make such an array")
    return run, rest


def _inflated(body: memoryview, count: int) -> bytes:
    """Inflate to at most the size expected: a store may come from elsewhere."""
    try:
        return zlib.decompressobj().decompress(body, count + 1)
    except zlib.error as error:
        raise ValueError(str(error)) from error
