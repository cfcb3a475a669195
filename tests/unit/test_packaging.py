"""What is published: dependencies, links, licences, and the versions that were tested."""

from __future__ import annotations

import ast
import re
import sys
import tomllib
from importlib.metadata import metadata, packages_distributions, requires
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name
from packaging.version import Version

from auditor import PROJECT_URL
from auditor.api import json_schema
from auditor.model.audit import SCHEMA_VERSION

ROOT = Path(__file__).parents[2]
WHOLE = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
PROJECT = WHOLE["project"]
LOCK = (ROOT / "tests" / "locks" / "tested.txt").read_text(encoding="utf-8")
EXTRAS = ("cluster", "parquet")
"""What users may ask for as well; the rest is for whoever develops."""
NAMED_BY_YEAR = {"distributed", "fsspec", "imagecodecs"}


def needs(lines: list[str]) -> dict[str, Requirement]:
    found = map(Requirement, lines)
    return {canonicalize_name(one.name): one for one in found}


RUN = needs(PROJECT["dependencies"])
ADDED = needs([line for extra in EXTRAS for line in PROJECT["optional-dependencies"][extra]])


def imported() -> set[str]:
    """The distributions that the package's modules import, at their head or late."""
    names = set()
    for path in (ROOT / "auditor").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_bytes())):
            if isinstance(node, ast.Import):
                names |= {alias.name.partition(".")[0] for alias in node.names}
            elif isinstance(node, ast.ImportFrom) and node.module:
                names.add(node.module.partition(".")[0])
    owners = packages_distributions()
    foreign = names - set(sys.stdlib_module_names) - {"auditor"}
    return {canonicalize_name(owner) for name in foreign for owner in owners[name]}


def test_what_is_imported_is_declared_and_what_is_declared_is_imported() -> None:
    assert imported() <= RUN.keys() | ADDED.keys(), "imported, not declared"
    assert RUN.keys() <= imported(), "declared, never imported"


@pytest.mark.parametrize("need", (RUN | ADDED).values(), ids=str)
def test_each_dependency_has_a_floor_and_ends_before_the_next_major_version(
    need: Requirement,
) -> None:
    bounds = {one.operator: one.version for one in need.specifier}
    if "==" in bounds:
        assert bounds == {"==": "3.5.*"}, "a pinned series is the exception, with its why"
        return
    if need.name in NAMED_BY_YEAR:
        assert bounds.keys() == {">="}
        return
    floor, ceiling = Version(bounds[">="]), Version(bounds["<"])
    assert floor < ceiling
    assert ceiling.release == (ceiling.major,), "a ceiling is a major version"


def test_the_lock_holds_every_dependency_within_its_bounds() -> None:
    locked = [Requirement(line) for line in LOCK.splitlines() if line and line[0] not in "# "]
    developing = needs(PROJECT["optional-dependencies"]["dev"])
    del developing["exposure-auditor"]
    for name, need in (RUN | ADDED | developing).items():
        versions = [
            next(iter(one.specifier)).version
            for one in locked
            if canonicalize_name(one.name) == name
        ]
        assert versions, f"{name} is missing: make lock"
        assert all(map(need.specifier.contains, versions)), f"{name} {versions}: make lock"
    assert "://" not in LOCK


def test_every_dependency_is_named_with_its_licence() -> None:
    rows = re.findall(r"^\| (\S+) \| (\S.*?) \| (\S.*?) \|$", page("THIRD_PARTY.md"), re.MULTILINE)
    told = {canonicalize_name(name): licence for name, licence, _ in rows[1:] if name != "---"}
    assert told.keys() == RUN.keys() | ADDED.keys()
    assert [name for name, licence in told.items() if "LGPL" in licence] == ["rawpy"]


def needed_in_turn() -> set[str]:
    """What pip fetches for a user beside what is named directly, whatever the extras."""
    waiting, found = [*RUN.values(), *ADDED.values()], set[str]()
    while waiting:
        need = waiting.pop()
        name = canonicalize_name(need.name)
        if name not in found:
            found.add(name)
            waiting += [
                one
                for one in map(Requirement, requires(name) or [])
                if one.marker is None
                or any(one.marker.evaluate({"extra": extra}) for extra in ("", *need.extras))
            ]
    return found - RUN.keys() - ADDED.keys()


def licence(name: str) -> str:
    """The family of what a package says of itself, in one word."""
    told, said = metadata(name), ("License-Expression", "Classifier", "License")
    lines = [(field, one) for field in said for one in told.get_all(field) or []]
    text = " ".join(one for field, one in lines if field != "Classifier" or "License" in one)
    families = {"LGPL": "LGPL", "MIT": "MIT", "BSD": "BSD", "Apache": "Apache", "ISC": "ISC",
                "Python Software": "PSF", "PSF": "PSF", "Gene Cash": "BSD"}  # fmt: skip
    found = {place: family for word, family in families.items() if (place := text.find(word)) >= 0}
    return found[min(found)]


def test_what_the_dependencies_need_is_named_with_its_licence() -> None:
    rows = re.findall(r"^\| (\S+) \| (\S+, .*|\S+) \|$", page("THIRD_PARTY.md"), re.MULTILINE)
    told = {name.split()[0]: family for family, names in rows for name in names.split(", ")}
    told = {name: family for name, family in told.items() if name not in ("---", "packages")}
    assert needed_in_turn() <= told.keys(), "not named"
    locked = {canonicalize_name(Requirement(line).name) for line in LOCK.splitlines()
              if line and line[0] not in "# "}  # fmt: skip
    assert told.keys() <= locked, "named, and never installed"
    for name in needed_in_turn():
        assert told[name].startswith(licence(name)), name
    assert not any("GPL" in family for family in told.values())


def test_what_is_told_of_a_licence_is_what_the_package_says() -> None:
    rows = re.findall(r"^\| (\S+) \| (\S.*?) \| (\S.*?) \|$", page("THIRD_PARTY.md"), re.MULTILINE)
    told = {name: text for name, text, _ in rows if canonicalize_name(name) in RUN | ADDED}
    for name, text in told.items():
        assert licence(name) in text, name


def test_the_project_lives_in_one_place() -> None:
    places = re.findall(r"https://[^\s\"'()\\]+", (ROOT / "pyproject.toml").read_text("utf-8"))
    assert places
    assert all(f"{place}/".startswith(f"{PROJECT_URL}/") for place in places)
    assert PROJECT["urls"]["Homepage"] == PROJECT_URL


def test_published_alone_the_readme_has_no_relative_link() -> None:
    text = page("README.md")
    assert re.search(r"\]\((?!https?:|#)", text), "in a checkout they are relative"
    for one in WHOLE["tool"]["hatch"]["metadata"]["hooks"]["fancy-pypi-readme"]["substitutions"]:
        text = re.sub(one["pattern"], one["replacement"], text)
    targets = re.findall(r"\]\(([^)]+)\)", text)
    assert all(target.startswith(f"{PROJECT_URL}/") for target in targets)
    assert f"![The report of the sample shoot]({PROJECT_URL}/raw/main/reports/example" in text
    assert f"[DEVELOPERS.md]({PROJECT_URL}/blob/main/DEVELOPERS.md)" in text


def test_the_classifiers_name_the_pythons_from_the_least_on() -> None:
    named = [line.rpartition(" ")[2] for line in PROJECT["classifiers"] if "Python :: 3." in line]
    assert named[0] == PROJECT["requires-python"].removeprefix(">=")
    assert named == [f"3.{11 + minor}" for minor in range(len(named))]


def test_the_schema_is_named_by_its_version() -> None:
    assert json_schema()["$id"] == f"urn:exposure-auditor:audit:{SCHEMA_VERSION}"


def test_the_command_has_a_long_name_beside_the_short_one() -> None:
    assert PROJECT["scripts"]["exposure-auditor"] == PROJECT["scripts"]["auditor"]


def page(name: str) -> str:
    return (ROOT / name).read_text(encoding="utf-8")
