"""Measure the house: how long it is, how full its files, how often its helpers are used.

``python -m tests.house`` tells; ``tests/unit/test_house.py`` holds the bounds, which are only
ever lowered.
"""

from __future__ import annotations

import ast
import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from statistics import median

from auditor.model.limit import ROOMS

PACKAGE = Path(__file__).parent.parent / "auditor"
SHORT = 60
"""A file of fewer lines ought to be part of another."""


@dataclass(frozen=True)
class Helper:
    """A private function: where it stands, its lines from ``def`` on, how often it is named."""

    file: str
    name: str
    lines: int
    uses: int


@dataclass(frozen=True)
class House:
    """What is measured."""

    lines: int
    files: int
    median_file: float
    short_files: tuple[str, ...]
    helpers: tuple[Helper, ...]

    @property
    def used_once(self) -> tuple[Helper, ...]:
        """The private functions that are named in one place."""
        return tuple(one for one in self.helpers if one.uses == 1)

    @property
    def share_used_once(self) -> float:
        """Of all private functions, those that are named in one place."""
        return len(self.used_once) / max(1, len(self.helpers))


def measure() -> House:
    """Read every module of the package."""
    texts = {path: path.read_text("utf-8") for path in sorted(PACKAGE.rglob("*.py"))}
    lengths = {path: len(text.splitlines()) for path, text in texts.items()}
    # the one line that makes a folder a package is no file that anybody reads
    counted = {path: size for path, size in lengths.items() if path.name != "__init__.py"}
    return House(
        lines=sum(lengths.values()),
        files=len(counted),
        median_file=median(counted.values()),
        short_files=tuple(str(p.relative_to(PACKAGE)) for p, n in counted.items() if n < SHORT),
        helpers=tuple(helper for path, text in texts.items() for helper in helpers_of(path, text)),
    )


def helpers_of(path: Path, text: str) -> Iterator[Helper]:
    """Yield the private functions and methods of a module."""
    tree = ast.parse(text)
    named = Counter(
        node.id if isinstance(node, ast.Name) else node.attr
        for node in ast.walk(tree)
        if isinstance(node, ast.Name | ast.Attribute)
    )
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef) and re.match(r"_[^_]", node.name):
            lines = (node.end_lineno or node.lineno) - node.lineno + 1
            yield Helper(str(path.relative_to(PACKAGE)), node.name, lines, named[node.name])


def loose_numbers() -> list[str]:
    """Name the numbers that rooms with a table of limits compare with beside their tables.

    Those that stand at the top of a module: a local has its reason beside it.
    """
    parts = (ast.Constant, ast.BinOp, ast.UnaryOp, ast.Tuple, ast.operator, ast.unaryop, ast.Load)
    found = []
    for path in sorted(path for room in ROOMS for path in (PACKAGE / room).glob("*.py")):
        tree = ast.parse(path.read_text("utf-8"))
        compared = {
            name.id
            for node in ast.walk(tree)
            if isinstance(node, ast.Compare)
            for name in ast.walk(node)
            if isinstance(name, ast.Name)
        }
        for line in tree.body if path.name != "limits.py" else ():
            if isinstance(line, ast.Assign) and all(
                isinstance(part, parts) and not isinstance(getattr(part, "value", 0), str | bytes)
                for part in ast.walk(line.value)
            ):
                names = {
                    name.id for name in ast.walk(line.targets[0]) if isinstance(name, ast.Name)
                }
                found += [f"{path.parent.name}/{path.name} {name}" for name in names & compared]
    return found


def report(house: House) -> str:
    """Tell it in a few lines."""
    tiny = [one for one in house.used_once if one.lines <= 4]
    return (
        f"auditor/: {house.lines:,} lines in {house.files} files, half of them over "
        f"{house.median_file:.0f} lines; {len(house.short_files)} under {SHORT}\n"
        f"private functions: {len(house.helpers)}, used once {len(house.used_once)} "
        f"({house.share_used_once:.0%}), of which {len(tiny)} of at most 4 lines"
    )


if __name__ == "__main__":
    print(report(measure()))
