"""Whatever a record holds, it comes back the same."""

from __future__ import annotations

import dataclasses
from typing import Any, Literal

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from auditor.model.arrays import F32, U8, U16, U32
from auditor.model.findings import Severity
from auditor.store.codec import CannotDecode, decode, encode, from_bytes, to_bytes
from tests.store_frames import same

NUMBERS = st.floats(allow_nan=True, allow_infinity=True) | st.integers(-(2**40), 2**40).map(float)
SURROGATES: tuple[Literal["Cs"]] = ("Cs",)
ESCAPED_BYTES = st.characters(min_codepoint=0xDC80, max_codepoint=0xDCFF, categories=SURROGATES)
INTEGERS = st.integers(-(2**63), 2**63 - 1)
"""What the format holds; the largest that a record holds is the size of a file."""

TEXTS = st.text(st.characters(exclude_categories=SURROGATES) | ESCAPED_BYTES, max_size=20)


@dataclasses.dataclass(frozen=True, slots=True)
class Inner:
    counts: U32
    thumb: bytes | None


@dataclasses.dataclass(frozen=True, slots=True)
class Outer:
    name: str
    flag: bool
    count: int
    level: float | None
    severity: Severity
    pair: tuple[float, int]
    words: tuple[str, ...]
    inner: Inner
    inners: tuple[Inner, ...]
    maybe: Inner | None
    by_name: dict[str, tuple[float, float]]
    maps: F32
    codes: U16
    bytes_: U8


def arrays(dtype: Any) -> st.SearchStrategy[Any]:
    shapes = hnp.array_shapes(min_dims=1, max_dims=3, min_side=0, max_side=9)
    return hnp.arrays(dtype, shapes)


INNERS = st.builds(Inner, counts=arrays(np.uint32), thumb=st.none() | st.binary(max_size=30))
OUTERS = st.builds(
    Outer,
    name=TEXTS,
    flag=st.booleans(),
    count=INTEGERS,
    level=st.none() | NUMBERS,
    severity=st.sampled_from(Severity),
    pair=st.tuples(NUMBERS, INTEGERS),
    words=st.lists(TEXTS, max_size=3).map(tuple),
    inner=INNERS,
    inners=st.lists(INNERS, max_size=3).map(tuple),
    maybe=st.none() | INNERS,
    by_name=st.dictionaries(TEXTS, st.tuples(NUMBERS, NUMBERS), max_size=3),
    maps=arrays(np.float32),
    codes=arrays(np.uint16),
    bytes_=arrays(np.uint8),
)


@given(OUTERS)
@settings(max_examples=60)
def test_any_record_comes_back_the_same(record: Outer) -> None:
    assert same(decode(Outer, encode(record)), record)


@given(st.sampled_from(["u1", "u2", "u4", "i8", "f4", "f8"]), st.data())
@settings(max_examples=60)
def test_any_array_comes_back_to_the_bit(kind: str, data: st.DataObject) -> None:
    array = data.draw(arrays(np.dtype(kind)))
    turned = array.T[::-1] if array.ndim > 1 else array[::2]
    for one in (array, turned, np.tile(array, 500)):
        read = from_bytes(to_bytes(one), one.dtype, one.shape)
        assert same(np.ascontiguousarray(read), np.ascontiguousarray(one))


@given(OUTERS, st.data())
@settings(max_examples=60)
def test_damaged_bytes_give_an_error_or_a_record_but_never_anything_else(
    record: Outer, data: st.DataObject
) -> None:
    wrong = bytearray(encode(record))
    place = data.draw(st.integers(0, len(wrong) - 1))
    wrong[place] ^= data.draw(st.integers(1, 255))
    try:
        read = decode(Outer, bytes(wrong))
    except CannotDecode:
        return
    assert isinstance(read, Outer)
