"""Every public name of the Python interface says what it takes and gives, with an example."""

from __future__ import annotations

import doctest
import inspect
import re
from collections.abc import Callable, Iterator
from dataclasses import fields, is_dataclass
from typing import Any, get_args, get_type_hints

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


def untold(kind: Any) -> set[str]:
    """Fields of a record that neither its docstring nor a line under them tells."""
    return {field.name for field in fields(kind)} - set(texts(kind))


def records_in(hint: Any) -> Iterator[type]:
    """The records that a field holds, however deep in lists and unions."""
    if isinstance(hint, type) and is_dataclass(hint):
        yield hint
    for part in get_args(hint):
        yield from records_in(part)


@pytest.mark.parametrize("name", api.__all__)
def test_every_field_of_a_record_is_told_by_itself_or_by_the_record_it_holds(name: str) -> None:
    kind: Any = getattr(api, name)  # a class, or a function
    unsaid = untold(kind) if is_dataclass(kind) else set()
    hints = get_type_hints(kind) if unsaid else {}
    for field in unsaid:
        held = list(records_in(hints[field]))
        assert held, f"{name}.{field} is not told"
        assert all((inspect.getdoc(one) or "").strip() for one in held)


@pytest.mark.parametrize("name", api.__all__)
def test_every_method_of_a_public_record_is_told(name: str) -> None:
    found = getattr(api, name)
    own = vars(found) if inspect.isclass(found) else {}
    for method, value in own.items():
        if isinstance(value, (property, classmethod)) or inspect.isfunction(value):
            assert method.startswith("_") or inspect.getdoc(value), f"{name}.{method}"


@pytest.mark.parametrize("name", api.__all__)
def test_examples_that_need_no_card_print_what_they_say(name: str) -> None:
    found = getattr(api, name)
    test = doctest.DocTestFinder(recurse=False).find(found, name, globs={})
    for one in test:
        assert doctest.DocTestRunner(verbose=False).run(one).failed == 0
