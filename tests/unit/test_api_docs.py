"""Every public name of the Python interface says what it takes and gives, with an example."""

from __future__ import annotations

import doctest
import inspect
import re
from collections.abc import Callable
from dataclasses import fields, is_dataclass
from typing import Any

import pytest

from auditor import api
from tests.schema_maker import texts

FUNCTIONS = [name for name in api.__all__ if inspect.isfunction(getattr(api, name))]


def section(doc: str, title: str) -> str:
    """What stands under a title of a numpydoc docstring."""
    found = re.search(rf"^{title}\n-+\n(.*?)(?=^\w[^\n]*\n-+\n|\Z)", doc, re.MULTILINE | re.DOTALL)
    return found[1] if found else ""


def told_parameters(doc: str) -> set[str]:
    heads = re.findall(r"^(\w[^:\n]*?)(?: :.*)?$", section(doc, "Parameters"), re.MULTILINE)
    return {name.strip() for head in heads for name in head.split(",")}


def wants(found: Callable[..., Any]) -> list[str]:
    """What the docstring of a function leaves unsaid."""
    doc, call = inspect.getdoc(found) or "", inspect.signature(found)
    missing = [name for name in call.parameters if name not in told_parameters(doc)]
    if call.return_annotation not in (None, "None"):
        missing += [] if section(doc, "Returns") or section(doc, "Yields") else ["what it returns"]
    return missing


def test_every_public_name_is_there() -> None:
    assert sorted(api.__all__) == api.__all__ == dir(api)
    assert all(getattr(api, name) is not None for name in api.__all__)
    with pytest.raises(AttributeError, match="no attribute"):
        _ = api.anything_else


@pytest.mark.parametrize("name", api.__all__)
def test_every_public_name_has_an_example(name: str) -> None:
    doc = inspect.getdoc(getattr(api, name)) or ""
    assert ">>> " in section(doc, "Examples"), f"{name} has no example"


@pytest.mark.parametrize("name", FUNCTIONS)
def test_every_function_tells_its_parameters_and_what_it_returns(name: str) -> None:
    assert wants(getattr(api, name)) == [], name


@pytest.mark.parametrize("name", api.__all__)
def test_every_field_of_a_record_is_told(name: str) -> None:
    kind: type = getattr(api, name)
    if is_dataclass(kind) and name not in (
        "Audit",
        "FrameResult",
        "Settings",
    ):  # holders of records
        unsaid = {field.name for field in fields(kind)} - set(texts(kind))
        assert unsaid <= {"nearest_marking", "match"}  # records that say it of themselves


@pytest.mark.parametrize("name", api.__all__)
def test_examples_that_need_no_card_print_what_they_say(name: str) -> None:
    found = getattr(api, name)
    test = doctest.DocTestFinder(recurse=False).find(found, name, globs={})
    for one in test:
        assert doctest.DocTestRunner(verbose=False).run(one).failed == 0
