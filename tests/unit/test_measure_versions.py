"""A record that changes its fields is another version of its measure, or old stores are lost."""

from __future__ import annotations

import dataclasses
import hashlib
from enum import Enum
from types import UnionType
from typing import Any, Literal, Union, get_args, get_origin, get_type_hints

import numpy as np
import pytest

from auditor.model.measures import MEASURES, Measure, record_kind
from auditor.model.remark import RemarkCode

SHAPES = {
    "file": (5, "3e5fef80941e"),
    "planes": (17, "9c47e84aa9c6"),
    "tiles": (2, "50e02213c71e"),
    "detail": (1, "31a742cc888f"),
    "hot": (1, "3d2753e0573e"),
    "damage": (9, "698f385c24d1"),
    "shading": (1, "06cced419741"),
    "patches": (1, "81b21131300b"),
    "preview": (5, "8e8e62384038"),
    "pictures": (1, "1d11f3a79310"),
}
"""Version and shape of each measure's record. Where a test fails, a record has changed: raise the
version of its measure, and note both here."""


def fields_of(kind: Any, seen: dict[str, str]) -> str:
    """Name a type; the fields of every record in it go into ``seen``.

    One remark more changes no record: what is stored is read as it was.
    """
    if isinstance(kind, type) and dataclasses.is_dataclass(kind):
        if kind.__name__ not in seen:
            seen[kind.__name__] = ""
            hints = get_type_hints(kind)
            told = (f"{f.name}:{fields_of(hints[f.name], seen)}" for f in dataclasses.fields(kind))
            seen[kind.__name__] = ",".join(told)
        return kind.__name__
    if isinstance(kind, type) and issubclass(kind, Enum) and kind is not RemarkCode:
        return f"enum({sorted(str(member.value) for member in kind)})"
    origin, inner = get_origin(kind), get_args(kind)
    if origin is Literal:
        return f"one of {inner}"
    if origin is None:
        return getattr(kind, "__name__", repr(kind))
    if origin is np.ndarray:
        return f"array of {get_args(inner[1])[0].__name__}"
    name = "or" if origin in (Union, UnionType) else origin.__name__
    return f"{name}[{','.join(fields_of(one, seen) for one in inner)}]"


def shape_of(measure: Measure) -> str:
    seen: dict[str, str] = {}
    whole = fields_of(record_kind(measure.fields), seen)
    return hashlib.sha256(repr((whole, sorted(seen.items()))).encode()).hexdigest()[:12]


@pytest.mark.parametrize("measure", MEASURES, ids=lambda measure: measure.name)
def test_a_record_of_another_shape_has_another_version(measure: Measure) -> None:
    assert SHAPES[measure.name] == (measure.version, shape_of(measure))


def test_a_field_more_is_another_shape() -> None:
    @dataclasses.dataclass
    class Before:
        level_dn: float

    @dataclasses.dataclass
    class After:
        level_dn: float
        share: float | None = None

    After.__name__ = Before.__name__
    told: list[dict[str, str]] = [{}, {}]
    fields_of(tuple[Before, ...], told[0])
    fields_of(tuple[After, ...], told[1])
    assert told[0] != told[1]
