"""Records as bytes, by their types, and back without loss.

msgspec does the work. A field that a record has gained since takes its default, one that it has
lost is passed over.
"""

from __future__ import annotations

import zlib
from collections.abc import Callable
from functools import cache
from typing import Any, TypeVar

import msgspec
import numpy as np

from auditor.model.errors import BadSettings
from auditor.store.arrays import from_bytes, to_bytes

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
        return _ESCAPED + msgspec.msgpack.encode(_with_texts(plain, _escaped))


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
        plain = _with_texts(msgspec.msgpack.decode(content[1:]), _unescaped)
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


def _escaped(text: str) -> str:
    return text.encode("utf-8", "surrogatepass").decode("latin-1")


def _unescaped(text: str) -> str:
    return text.encode("latin-1").decode("utf-8", "surrogatepass")
