"""Limits are numbers that say what they mean, and every room's table is whole."""

from __future__ import annotations

import copy
import pickle
from importlib import import_module
from types import ModuleType

import pytest

from auditor.model.limit import ROOMS, Limit, all_limits, limits_of


def test_a_limit_is_its_number_and_says_what_it_means() -> None:
    limit = Limit(0.5, "share of a tile", "From it on a tile is lost.")
    assert limit == 0.5
    assert limit * 2 == 1.0
    for again in (copy.deepcopy(limit), pickle.loads(pickle.dumps(limit))):
        assert (again, again.unit, again.meaning) == (0.5, limit.unit, limit.meaning)


@pytest.mark.parametrize("room", ROOMS)
def test_every_limit_has_a_meaning_and_is_used(room: str) -> None:
    module = import_module(f"auditor.{room}.limits")
    assert isinstance(module, ModuleType)
    assert limits_of(module), "an empty table is no table"
    for name, limit in limits_of(module).items():
        assert limit.meaning.endswith("."), name
        assert limit > 0, name


def test_no_name_stands_twice_in_a_room_and_all_rooms_are_listed() -> None:
    assert set(all_limits()) == set(ROOMS)
