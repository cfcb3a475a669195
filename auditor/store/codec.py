"""Records and arrays as bytes, and back without loss.

msgspec does the records, by their types. A field that a record has gained since takes its
default, one that it has lost is passed over.

Arrays are packed exactly, compactly, and are quick to read back. Neighbours differ little: values
are taken as whole numbers (floats by their bits), less the low bits that are zero in all of them;
each is kept as its difference from the one before it. Planes of maps are alike: each is kept as
what its differences are more than a share of those of an earlier plane, whichever tells most.
Bytes of equal weight then lie together and are Huffman coded: small differences
are short, and runs of equal ones vanish.
"""

from __future__ import annotations

import math
import zlib
from collections.abc import Callable
from functools import cache
from itertools import pairwise
from typing import Any, TypeVar

import msgspec
import numpy as np
from numpy.typing import NDArray

from auditor.model.errors import BadSettings

MOST_VALUES = 1 << 20
"""Seven times the largest map: whatever a damaged store promises, no more is made room for."""

BLOCK_MEMORY = 6
"""zlib's ``memLevel``: small blocks, so that smooth and rough parts get codes of their own."""

SPARSE_SHARE = 0.05
"""Below this share of values that are not zero, only those are kept, with their places."""

_SPARSE = 0xFF
_FORETOLD = 0x40
"""Beside the count of unused bits: a byte for each plane after the first says what foretells it."""

QUARTERS = (4, 3, 2)
"""Shares of an earlier plane's differences that may foretell a plane's."""

PLANES_BACK = 3
ASKED = 7
"""Every so many values are asked which plane foretells them best."""


def to_bytes(array: NDArray[Any]) -> bytes:
    """Pack the values of an array of plain numbers; dtype and shape are told elsewhere."""
    stored = np.ascontiguousarray(array, dtype=array.dtype.newbyteorder("<"))
    bits = stored.view(f"<u{stored.itemsize}").reshape(array.shape)
    places = np.flatnonzero(bits)
    if places.size < SPARSE_SHARE * bits.size:
        values = bits.reshape(-1)[places].tobytes()
        return bytes([_SPARSE, 0]) + places.astype("<u4").tobytes() + values
    used = int(np.bitwise_or.reduce(bits, axis=None)) if bits.size else 0
    unused = (used & -used).bit_length() - 1 if used else 0
    bits = bits >> bits.dtype.type(unused)
    planes = bits.reshape(len(bits) if bits.ndim == 3 and bits.size else 1, -1)
    signed = np.concatenate([planes[:, :1], planes[:, 1:] - planes[:, :-1]], axis=1)  # wrapping
    foretold = bytes(_foretelling(signed[:, ::ASKED], plane) for plane in range(1, len(signed)))
    parts = [_part_of(signed, plane, code) for plane, code in enumerate(foretold, 1)]
    runs = _folded(np.concatenate([signed[0], *(signed[1:] - parts if parts else ())]))
    width = -(-int(runs.max(initial=0)).bit_length() // 8)
    by_weight = runs.view(np.uint8).reshape(-1, stored.itemsize)[:, :width].T.tobytes()
    deflate = zlib.compressobj(1, zlib.DEFLATED, -zlib.MAX_WBITS, BLOCK_MEMORY, zlib.Z_RLE)
    head = bytes([unused + _FORETOLD * bool(foretold), width]) + foretold
    return head + deflate.compress(by_weight) + deflate.flush()


def _folded(signed: NDArray[Any]) -> NDArray[Any]:
    """Fold negative differences in between the others: small ones stay small."""
    kind = signed.dtype.type
    folded: NDArray[Any] = (signed << kind(1)) ^ -(signed >> kind(8 * signed.itemsize - 1))
    return folded


def _foretelling(signed: NDArray[Any], plane: int) -> int:
    """Return by what a plane's differences are foretold best; 0 for nothing."""
    codes = [0]
    for back in range(1, min(plane, PLANES_BACK) + 1):
        codes += [back * 8 + quarters for quarters in QUARTERS]
    digits = [
        np.log2(_folded(signed[plane] - _part_of(signed, plane, code)).astype(np.float32) + 1).sum()
        for code in codes
    ]
    return codes[int(np.argmin(digits))]


def _part_of(signed: NDArray[Any], plane: int, code: int) -> NDArray[Any]:
    """Return what an earlier plane foretells of the differences of one."""
    back, quarters = divmod(code, 8)
    if back > plane:
        raise ValueError("no earlier plane")
    kind = np.dtype(f"<i{signed.itemsize}").type
    earlier: NDArray[Any] = signed[plane - back].view(kind)
    part: NDArray[Any] = earlier * kind(quarters if back else 0) >> kind(2)
    return part.view(signed.dtype)


def from_bytes(packed: bytes, dtype: np.dtype[Any], shape: tuple[int, ...]) -> NDArray[Any]:
    """Unpack what :func:`to_bytes` packed.

    Raises
    ------
    ValueError
        The bytes do not make such an array.
    """
    if not all(0 <= side <= MOST_VALUES for side in shape) or math.prod(shape) > MOST_VALUES:
        raise ValueError(f"no array has the shape {shape}")
    if len(packed) < 2:
        raise ValueError("bytes are missing")
    count, (head, width) = math.prod(shape), packed[:2]
    kind, (foretold, unused) = np.dtype(f"<u{dtype.itemsize}"), divmod(head, _FORETOLD)
    if head == _SPARSE:
        entries, rest = divmod(len(packed) - 2, 4 + kind.itemsize)
        places = np.frombuffer(packed, "<u4", entries, offset=2)
        if rest or (entries and int(places.max()) >= count):
            raise ValueError("the bytes do not make such an array")
        bits = np.zeros(count, kind)
        bits[places] = np.frombuffer(packed, kind, entries, offset=2 + 4 * entries)
        bits = bits.reshape(shape)
    elif unused < 8 * dtype.itemsize >= 8 * width and foretold <= (len(shape) == 3 and count > 0):
        begin = 1 + shape[0] if foretold else 2
        left = _inflated(packed[begin:], count * width)
        runs = np.frombuffer(left, np.uint8).reshape(width, count)
        joined = np.zeros(count, kind)
        for place in range(width):
            weighed = runs[place].astype(kind)
            weighed <<= kind.type(8 * place)
            joined |= weighed
        one = kind.type(1)
        differences = (joined >> one) ^ (kind.type(0) - (joined & one))
        bits = _summed(differences, shape, packed[2:begin]) << kind.type(unused)
    else:
        raise ValueError("the bytes do not make such an array")
    little: NDArray[Any] = bits.view(dtype.newbyteorder("<"))
    return little.astype(dtype, copy=False)


def _summed(differences: NDArray[Any], shape: tuple[int, ...], foretold: bytes) -> NDArray[Any]:
    """Add up differences, what foretells those of planes put back."""
    if foretold:
        planes = differences.reshape(shape[0], -1)
        for plane, code in enumerate(foretold, 1):
            planes[plane] += _part_of(planes, plane, code)
        return np.cumsum(planes, axis=1, dtype=planes.dtype).reshape(shape)
    bits: NDArray[Any] = np.cumsum(differences, dtype=differences.dtype).reshape(shape)
    # as planes were once written: one after the other, each less the one before
    for before, after in pairwise(bits if len(shape) == 3 else ()):
        np.add(before, after, out=after)
    return bits


def _inflated(packed: bytes, size: int) -> bytes:
    """Inflate to exactly the size expected: a store may come from elsewhere."""
    inflate = zlib.decompressobj(-zlib.MAX_WBITS)
    try:
        content = inflate.decompress(packed, size + 1)
    except zlib.error as error:
        raise ValueError(str(error)) from error
    if len(content) != size or not inflate.eof or inflate.unused_data:
        raise ValueError("the bytes do not make such an array")
    return content


Record = TypeVar("Record")

MOST_BYTES = 1 << 29
"""Of a deflated record, inflated: a shoot of 100,000 frames takes less."""

_PLAIN, _ESCAPED = b"\x00", b"\x01"


class CannotDecode(Exception):
    """What is stored does not make such a record."""


_NO_RECORD = (
    msgspec.MsgspecError, ValueError, TypeError, OverflowError, RecursionError, BadSettings
)  # fmt: skip


def encode(record: object) -> bytes:
    """Write a record, or a tuple of records and values.

    Raises
    ------
    TypeError
        It holds something that cannot be stored.
    """
    try:
        return _PLAIN + msgspec.msgpack.encode(record, enc_hook=_plain)
    except UnicodeEncodeError:  # file names may hold lone surrogates, which have no encoding
        plain = msgspec.to_builtins(record, enc_hook=_plain, builtin_types=(bytes,))
        escaped = _with_texts(plain, lambda x: x.encode("utf-8", "surrogatepass").decode("latin-1"))
        return _ESCAPED + msgspec.msgpack.encode(escaped)


def decode(kind: type[Record], content: bytes) -> Record:
    """Read a record back.

    Raises
    ------
    CannotDecode
        The bytes do not make such a record.
    """
    try:
        if content[:1] == _PLAIN:
            hint: Any = kind
            record: Record = _decoder(hint).decode(content[1:])
            return record
        plain = _with_texts(
            msgspec.msgpack.decode(content[1:]),
            lambda x: x.encode("latin-1").decode("utf-8", "surrogatepass"),
        )
        return msgspec.convert(plain, kind, dec_hook=_array, builtin_types=(bytes,))
    except _NO_RECORD as error:
        raise CannotDecode(str(error)) from error


def encode_deflated(record: object) -> bytes:
    """Write a large record small."""
    return zlib.compress(encode(record), 1)


def decode_deflated(kind: type[Record], content: bytes) -> Record:
    """Read what :func:`encode_deflated` wrote.

    Raises
    ------
    CannotDecode
        The bytes do not make such a record.
    """
    try:
        return decode(kind, zlib.decompressobj().decompress(content, MOST_BYTES))
    except (zlib.error, TypeError) as error:
        raise CannotDecode(str(error)) from error


@cache
def _decoder(kind: Any) -> msgspec.msgpack.Decoder[Any]:
    return msgspec.msgpack.Decoder(kind, dec_hook=_array)


def _plain(value: Any) -> Any:
    """Say how arrays, scalars of array libraries, and limits are written."""
    if isinstance(value, np.ndarray):
        return value.dtype.str.lstrip("<>|="), value.shape, to_bytes(value)
    if isinstance(value, np.generic):
        return value.item()
    if isinstance(value, float):  # a limit that knows its unit is stored as its number
        return float(value)
    raise TypeError(f"{type(value).__name__} cannot be stored")


def _array(kind: Any, value: Any) -> np.ndarray[Any, Any]:
    """Read an array; the only type among records that msgspec does not know."""
    name, shape, packed = value
    if name[0] not in "buif":
        raise ValueError(f"arrays of {name} are not stored")
    return from_bytes(packed, np.dtype(name), tuple(shape))


def _with_texts(value: Any, change: Callable[[str], str]) -> Any:
    if isinstance(value, str):
        return change(value)
    if isinstance(value, dict):
        return {change(name): _with_texts(item, change) for name, item in value.items()}
    if isinstance(value, list | tuple):
        return [_with_texts(item, change) for item in value]
    return value
