"""Names shown without loss and sorted as people count."""

from __future__ import annotations

import json
import os

import pytest
from hypothesis import given
from hypothesis import strategies as st

from auditor.model.text import real_name, visible_name
from auditor.read.card import natural_key

anything = st.binary(max_size=40).map(os.fsdecode)


@given(anything | st.text(max_size=40))
def test_a_visible_name_prints_and_leads_back(name: str) -> None:
    shown = visible_name(name)
    assert real_name(shown) == name
    assert json.loads(json.dumps(shown).encode("utf-8")) == shown


@given(anything, anything)
def test_two_names_never_look_the_same(one: str, other: str) -> None:
    assert (visible_name(one) == visible_name(other)) == (one == other)


@pytest.mark.parametrize("name", ["IMG_0001.DNG", "Åse fjord é.dng", "雪 01.nef", "a b-c.dng"])
def test_ordinary_names_stay_as_they_are(name: str) -> None:
    assert visible_name(name) == name


def test_what_hides_is_written_out() -> None:
    assert visible_name(os.fsdecode(b"caf\xe9.dng")) == "caf\\xe9.dng"
    assert visible_name("caf\\xe9.dng") == "caf\\\\xe9.dng"
    assert visible_name("a\n\u202eb") == "a\\u000a\\u202eb"


def test_numbers_count_as_numbers_folder_by_folder() -> None:
    names = ["b/1", "a10/1", "a9/2", "a9/10", "IMG_10.dng", "IMG_9.dng", "img_9.dng", "IMG_09.dng"]
    ordered = sorted(names, key=natural_key)
    assert ordered == [
        "a9/2", "a9/10", "a10/1", "b/1", "IMG_09.dng", "IMG_9.dng", "img_9.dng", "IMG_10.dng",
    ]  # fmt: skip


@given(st.lists(anything, max_size=8))
def test_any_names_have_one_order(names: list[str]) -> None:
    backwards = names[::-1]
    assert sorted(names, key=natural_key) == sorted(backwards, key=natural_key)


def test_endless_digits_sort() -> None:
    assert natural_key("9" * 10_000) < natural_key("1" + "0" * 10_000)
