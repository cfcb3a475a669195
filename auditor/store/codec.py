"""Frozen records as text and bytes, by their type hints, and back without loss.

Scalars, texts, tuples, dictionaries and records become JSON; arrays and bytes become parts, so
that the heavy ones can lie apart and be fetched only when wanted. A field that a record has
gained since takes its default, one that it has lost is passed over.
"""

from __future__ import annotations

import dataclasses
import json
import types
from collections.abc import Callable, Mapping
from enum import Enum
from functools import cache
from typing import Any, TypeVar, Union, get_args, get_origin, get_type_hints

import numpy as np

from auditor.model.errors import BadSettings
from auditor.store.arrays import from_bytes, to_bytes

Record = TypeVar("Record")

REST = "rest"
"""The part that holds all arrays and bytes for which no part is named."""


class CannotDecode(Exception):
    """What is stored does not make such a record."""


_NO_RECORD = (
    ValueError, TypeError, KeyError, IndexError, AttributeError, RecursionError, BadSettings
)  # fmt: skip


@dataclasses.dataclass(frozen=True, slots=True)
class Packed:
    """A record as JSON text and named parts of bytes."""

    text: str
    parts: dict[str, bytes]


def pack(record: object, part_of: Mapping[type, str] | None = None) -> Packed:
    """Pack a record.

    Parameters
    ----------
    record : a dataclass instance
    part_of : mapping of record type to the name of a part
        Where the arrays and bytes of that type, and of the records within it, go.

    Raises
    ------
    TypeError
        A field's type is none that can be stored.
    """
    sink = _Sink(dict(part_of or {}))
    kind: Any = type(record)
    value = _way(kind).encode(record, sink)
    text = json.dumps(value, separators=(",", ":"), default=_plain_scalar)
    return Packed(text, {name: b"".join(chunks) for name, chunks in sink.chunks.items()})


def unpack(kind: type[Record], packed: Packed) -> Record:
    """Unpack a record. Arrays and bytes of parts that are not given come back empty.

    Raises
    ------
    CannotDecode
        The text or the parts do not make such a record.
    """
    try:
        value = json.loads(packed.text)
        views = {name: memoryview(content) for name, content in packed.parts.items()}
        hint: Any = kind
        record: Record = _way(hint).decode(value, views)
    except _NO_RECORD as error:
        raise CannotDecode(f"{kind.__name__}: {error}") from error
    return record


class _Sink:
    """Collects arrays and bytes while a record is packed."""

    def __init__(self, part_of: dict[type, str]) -> None:
        self.part_of = part_of
        self.part = REST
        self.chunks: dict[str, list[bytes]] = {}
        self._sizes: dict[str, int] = {}

    def take(self, content: bytes) -> list[Any]:
        """Put bytes away; return where they are as [part, first byte, count of bytes]."""
        start = self._sizes.get(self.part, 0)
        self._sizes[self.part] = start + len(content)
        self.chunks.setdefault(self.part, []).append(content)
        return [self.part, start, len(content)]


Parts = dict[str, memoryview]


@dataclasses.dataclass(frozen=True, slots=True)
class _Way:
    """How one type is packed and unpacked."""

    encode: Callable[[Any, _Sink], Any]
    decode: Callable[[Any, Parts], Any]


_AS_IT_IS = _Way(lambda value, sink: value, lambda value, parts: value)


@cache
def _way(hint: Any) -> _Way:
    """Find the way of a type hint."""
    if hint in (str, int, float, bool, type(None)):
        return _AS_IT_IS
    if hint is bytes:
        return _Way(lambda value, sink: sink.take(value), _bytes_from)
    if isinstance(hint, type) and issubclass(hint, Enum):
        return _Way(lambda value, sink: value.value, lambda value, parts: hint(value))
    if dataclasses.is_dataclass(hint):
        return _record_way(hint)  # type: ignore[arg-type]
    return _generic_way(hint)


def _generic_way(hint: Any) -> _Way:
    origin, arguments = get_origin(hint), get_args(hint)
    # numpy 2.5 writes NDArray as an alias of its own kind where Python has them (3.12 and later)
    if origin is np.ndarray or get_origin(getattr(origin, "__value__", None)) is np.ndarray:
        return _Way(_array_to, _array_from)
    if origin is tuple:
        return _tuple_way(arguments)
    if origin is dict and arguments[0] is str:
        return _dict_way(_way(arguments[1]))
    if origin in (Union, types.UnionType):
        return _optional_way(arguments)
    raise TypeError(f"{hint} cannot be stored")


def _record_way(kind: type) -> _Way:
    hints = get_type_hints(kind)
    ways = [(f.name, _way(hints[f.name])) for f in dataclasses.fields(kind) if f.init]

    def encode(record: Any, sink: _Sink) -> dict[str, Any]:
        before = sink.part
        sink.part = sink.part_of.get(kind, before)
        value = {name: way.encode(getattr(record, name), sink) for name, way in ways}
        sink.part = before
        return value

    def decode(value: Any, parts: Parts) -> Any:
        return kind(**{name: way.decode(value[name], parts) for name, way in ways if name in value})

    return _Way(encode, decode)


def _tuple_way(arguments: tuple[Any, ...]) -> _Way:
    if len(arguments) == 2 and arguments[1] is Ellipsis:
        each = _way(arguments[0])
        if each is _AS_IT_IS:
            return _Way(lambda value, sink: list(value), lambda value, parts: tuple(value))
        return _Way(
            lambda value, sink: [each.encode(item, sink) for item in value],
            lambda value, parts: tuple([each.decode(item, parts) for item in value]),
        )
    ways = [_way(argument) for argument in arguments]
    return _Way(
        lambda value, sink: [w.encode(item, sink) for w, item in zip(ways, value, strict=True)],
        lambda value, parts: tuple(
            [w.decode(item, parts) for w, item in zip(ways, value, strict=True)]
        ),
    )


def _dict_way(each: _Way) -> _Way:
    return _Way(
        lambda value, sink: {name: each.encode(item, sink) for name, item in value.items()},
        lambda value, parts: {name: each.decode(item, parts) for name, item in value.items()},
    )


def _optional_way(arguments: tuple[Any, ...]) -> _Way:
    kinds = [argument for argument in arguments if argument is not type(None)]
    if len(kinds) != 1:
        raise TypeError(f"a choice of {kinds} cannot be stored")
    way = _way(kinds[0])
    if way is _AS_IT_IS:
        return way
    return _Way(
        lambda value, sink: None if value is None else way.encode(value, sink),
        lambda value, parts: None if value is None else way.decode(value, parts),
    )


def _array_to(array: np.ndarray[Any, Any], sink: _Sink) -> list[Any]:
    return [array.dtype.str.lstrip("<>|="), list(array.shape), *sink.take(to_bytes(array))]


def _array_from(value: list[Any], parts: Parts) -> np.ndarray[Any, Any]:
    name, shape, part, start, count = value
    dtype = np.dtype(name)
    if dtype.kind not in "buif":
        raise ValueError(f"arrays of {name} are not stored")
    if part not in parts:
        return np.empty((0,) * len(shape), dtype=dtype)
    return from_bytes(_slice(parts[part], start, count), dtype, tuple(shape))


def _bytes_from(value: list[Any], parts: Parts) -> bytes:
    part, start, count = value
    return bytes(_slice(parts[part], start, count)) if part in parts else b""


def _slice(content: memoryview, start: int, count: int) -> memoryview:
    piece = content[start : start + count]
    if start < 0 or len(piece) != count:
        raise ValueError("bytes are missing")
    return piece


def _plain_scalar(value: Any) -> Any:
    """Let scalars of array libraries pass as plain numbers."""
    if isinstance(value, np.generic):
        return value.item()
    raise TypeError(f"{type(value).__name__} cannot be stored")
