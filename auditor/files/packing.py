"""Values packed for another process or for a file between two steps, records above all.

The standard library packs a frozen record with slots by asking the names of its fields again for
each one: that is half of the time of packing and unpacking thousands of frames. Here they are asked
once a kind.
"""

from __future__ import annotations

import io
import pickle
from collections.abc import Callable
from dataclasses import fields, is_dataclass
from functools import cache
from operator import attrgetter
from types import MemberDescriptorType
from typing import Any

PROTOCOL = 5


def pack(value: object) -> bytes:
    """Pack a value; :func:`pickle.loads` unpacks it.

    Raises
    ------
    pickle.PicklingError, TypeError, AttributeError
        It holds what cannot be packed.
    """
    stream = io.BytesIO()
    _Packer(stream, PROTOCOL).dump(value)
    return stream.getvalue()


class _Packer(pickle.Pickler):
    """Packs records by their values alone, and all else as the standard library does."""

    def reducer_override(self, value: object, /) -> Any:
        kind = type(value)
        if kind not in _FETCHED_BY:
            _FETCHED_BY[kind] = _values_of(kind)
        values = _FETCHED_BY[kind]
        return NotImplemented if values is None else (_made, (kind, values(value)))


Values = Callable[[object], tuple[Any, ...]]

_FETCHED_BY: dict[type, Values | None] = {}
"""What fetches the values of each kind met; None for all that packs by itself."""


def _values_of(kind: type) -> Values | None:
    if not is_dataclass(kind):
        return None
    state = getattr(kind, "__getstate__", None)
    is_own = kind.__reduce__ is not object.__reduce__
    if is_own or getattr(state, "__module__", "") != "dataclasses":
        return None  # it has a way of its own, or no slots
    names = [slot.__name__ for slot in _slots_of(kind)]
    if len(names) > 1:
        return attrgetter(*names)
    return lambda record: tuple(getattr(record, name) for name in names)


@cache
def _slots_of(kind: type) -> tuple[MemberDescriptorType, ...]:
    return tuple(getattr(kind, field.name) for field in fields(kind))


def _made(kind: type, values: tuple[Any, ...]) -> object:
    """Make a record anew, frozen or not, without asking what it was made from."""
    record: object = object.__new__(kind)
    for slot, value in zip(_slots_of(kind), values, strict=True):
        slot.__set__(record, value)
    return record
