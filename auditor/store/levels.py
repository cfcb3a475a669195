"""Clipping levels remembered from all frames in the store."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

from auditor.model.measurement import MEASUREMENT_VERSION
from auditor.store.texts import storable

LevelKey = tuple[str, str, str, float, int, str]
"""Make, model, serial, ISO, bit depth, plane."""

MOST = 101
"""A median of so many is as good as one of all, and odd counts have a middle."""

_OF_KEY = """SELECT level_dn, from_dn FROM pile_up JOIN measurement
        ON measurement.id = measurement_id
    WHERE make = ? AND model = ? AND serial = ? AND iso = ? AND bit_depth = ? AND plane = ?
        AND version = ?
    ORDER BY measurement_id DESC LIMIT ?"""


Ask = Callable[[str, Sequence[Any]], list[Any]]
"""Puts a question to the database and returns all rows."""


class StoredLevels(Mapping[LevelKey, tuple[tuple[float, float], ...]]):
    """Pile-ups as (level, lower edge) in DN, newest first, fetched by key when asked for."""

    def __init__(self, ask: Ask) -> None:
        self._ask = ask
        self._fetched: dict[LevelKey, tuple[tuple[float, float], ...]] = {}

    def __getitem__(self, key: LevelKey) -> tuple[tuple[float, float], ...]:
        if key not in self._fetched:
            make, model, serial, iso, bit_depth, plane = key
            texts = (storable(make), storable(model), storable(serial))
            found = self._ask(_OF_KEY, (*texts, iso, bit_depth, plane, MEASUREMENT_VERSION, MOST))
            self._fetched[key] = tuple((level, lower) for level, lower in found)
        if not self._fetched[key]:
            raise KeyError(key)
        return self._fetched[key]

    def __iter__(self) -> Iterator[LevelKey]:
        return iter(
            self._ask(
                """SELECT DISTINCT make, model, serial, iso, bit_depth, plane FROM pile_up
                    JOIN measurement ON measurement.id = measurement_id
                WHERE version = ? ORDER BY 1, 2, 3, 4, 5, 6""",
                (MEASUREMENT_VERSION,),
            )
        )

    def __len__(self) -> int:
        return sum(1 for _ in self)
