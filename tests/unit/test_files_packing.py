"""Records packed by their values: what is unpacked is what was packed, frozen or not."""

from __future__ import annotations

import pickle
import pickletools
from dataclasses import FrozenInstanceError, dataclass, field
from enum import Enum
from typing import Generic, TypeVar

import numpy as np
import pytest

from auditor.files.packing import pack
from tests.builders import make_audit

Value = TypeVar("Value")


class Kind(Enum):
    ONE = "one"


@dataclass(frozen=True, slots=True, kw_only=True)
class Plain:
    name: str
    kind: Kind = Kind.ONE
    inner: tuple[object, ...] = ()


@dataclass(slots=True)
class Single(Generic[Value]):
    held: Value


@dataclass(frozen=True, slots=True)
class Checked:
    given: int
    double: int = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "double", 2 * self.given)


@dataclass(frozen=True)
class WithoutSlots:
    name: str


@dataclass(frozen=True, slots=True)
class Own:
    name: str

    def __reduce__(self) -> tuple[type, tuple[str]]:
        return Own, (self.name.upper(),)


@dataclass(frozen=True, slots=True)
class Empty:
    pass


@pytest.mark.parametrize(
    "value",
    [
        Plain(name="a", inner=(Plain(name="b"), Single(2), {"c": Single([None])})),
        Checked(3),
        WithoutSlots("a"),
        Single(WithoutSlots("a")),
        Empty(),
        (1, "two", None, Kind.ONE, Plain),
    ],
    ids=lambda value: type(value).__name__,
)
def test_what_is_unpacked_equals_what_was_packed(value: object) -> None:
    again = pickle.loads(pack(value))
    assert again == value
    assert type(again) is type(value)


def test_a_whole_audit_comes_back_as_it_was() -> None:
    audit, _ = make_audit(5)
    assert pickle.loads(pack(audit)) == audit


def test_a_frozen_record_stays_frozen_and_arrays_whole() -> None:
    again = pickle.loads(pack(Single(np.arange(6.0).reshape(2, 3))))
    assert np.array_equal(again.held, np.arange(6.0).reshape(2, 3))
    with pytest.raises(FrozenInstanceError):
        pickle.loads(pack(Checked(1))).given = 2


def test_one_record_held_twice_is_packed_once() -> None:
    one = Plain(name="a")
    first, second = pickle.loads(pack((one, one)))
    assert first is second


def test_what_packs_in_its_own_way_goes_on_doing_so() -> None:
    assert pickle.loads(pack(Own("a"))) == Own("A")


def test_names_of_fields_are_not_packed() -> None:
    told = [argument for _, argument, _ in pickletools.genops(pack(Plain(name="a")))]
    assert "inner" not in told
    assert "a" in told


def test_what_cannot_be_packed_says_so() -> None:
    with pytest.raises((pickle.PicklingError, AttributeError)):
        pack(Plain(name="a", inner=(lambda: None,)))
