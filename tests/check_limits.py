"""Move every limit by a third, up and down, and ask the tests to notice.

``python -m tests.check_limits [ROOM[.LIMIT] ...]`` runs the tests of each room once and notes
which of them reach a function that a limit is used in. Then each of these is run again with the
limit moved, those made for limits and the quickest first, until one fails. A move that none
notices is named, and ends the run with 1. All in one process:
``make check-limits ROOMS="black defects"``.
"""

from __future__ import annotations

import dis
import sys
import time
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from importlib import import_module
from inspect import getsource
from pathlib import Path
from types import CodeType, ModuleType
from typing import Any

import pytest
from _pytest.runner import runtestprotocol

from auditor.model.limit import ROOMS, Limit, all_limits

ROOT = Path(__file__).parent.parent
FACTORS = (2 / 3, 4 / 3)
ALSO: dict[str, tuple[str, ...]] = defaultdict(
    tuple,
    noise=("unit/test_measures_layouts.py", "unit/test_figures_frame.py"),
    detail=("unit/test_advise_keepers.py",),
    advise=("unit/test_sidecar_marks.py",),
)
"""Tests of a room's limits beside those that carry its name."""

LONGEST_S = 4.0
"""Of processor time: a test that takes longer is asked for no move."""

BUDGET_S = 15.0
"""Of processor time: for one move no more tests are asked."""


@dataclass(frozen=True)
class Move:
    """One limit, in every module that has its name, times a factor."""

    room: str
    name: str
    factor: float

    def __str__(self) -> str:
        """Name it as it is told."""
        return f"{self.room}.{self.name} times {self.factor:.2f}"


def users_of(room: str, name: str) -> list[ModuleType]:
    """Return the loaded modules that hold a limit under its name, its own table included."""
    limit = getattr(import_module(f"auditor.{room}.limits"), name)
    loaded = [module for key, module in sys.modules.items() if key.startswith("auditor.")]
    return [module for module in loaded if vars(module).get(name) is limit]


def codes_using(module: ModuleType, name: str) -> Iterator[CodeType]:
    """Yield the functions of a module that read a name.

    Raises
    ------
    ValueError
        It is read when the module is loaded: moved later, it would change nothing.
    """
    waiting = [compile(getsource(module), module.__file__ or "", "exec")]
    while waiting:
        code = waiting.pop()
        waiting += [part for part in code.co_consts if isinstance(part, CodeType)]
        for step in dis.get_instructions(code):
            if step.argval == name and step.opname == "LOAD_NAME":
                raise ValueError(f"{module.__name__} reads {name} when it is loaded")
            if step.argval == name and step.opname.startswith("LOAD"):
                yield code


def place(code: CodeType) -> tuple[str, int, str]:
    """Tell a function from every other."""
    return code.co_filename, code.co_firstlineno, code.co_name


@dataclass
class Mover:
    """The plugin: runs each test once, then those that reach a limit with the limit moved."""

    wanted: list[tuple[str, str]]
    noticed: dict[Move, str] = field(default_factory=dict)
    reached: dict[tuple[str, str], list[tuple[float, pytest.Item]]] = field(
        default_factory=lambda: defaultdict(list)
    )
    broken: list[str] = field(default_factory=list)

    def pytest_configure(self) -> None:
        """Try few cases of each property, and make none that fails smaller."""
        from hypothesis import Phase, settings

        settings.register_profile(
            "moved", settings.get_profile("anywhere"), max_examples=30,
            phases=(Phase.explicit, Phase.generate),
        )  # fmt: skip
        settings.load_profile("moved")

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """Run what was collected, then move limits."""
        uses = self._uses()
        for item in session.items:
            self._watch(item, uses)
        for limit in self.wanted:
            for factor in FACTORS:
                move = Move(*limit, factor)
                self._move(move)
                if move not in self.noticed:
                    print(f"{move}: no test of the room fails", file=sys.__stdout__, flush=True)
        return True

    def _uses(self) -> dict[tuple[str, int, str], set[tuple[str, str]]]:
        """Return by function the limits that it reads."""
        uses: dict[tuple[str, int, str], set[tuple[str, str]]] = defaultdict(set)
        for limit in self.wanted:
            modules = [one for one in users_of(*limit) if not one.__name__.endswith(".limits")]
            try:
                for code in [code for module in modules for code in codes_using(module, limit[1])]:
                    uses[place(code)].add(limit)
            except ValueError as error:
                print(f"{error}: it cannot be moved", file=sys.__stdout__)
        return uses

    def _watch(self, item: pytest.Item, uses: dict[Any, set[tuple[str, str]]]) -> None:
        hits: set[tuple[str, str]] = set()
        known: dict[CodeType, set[tuple[str, str]]] = {}

        def called(frame: Any, event: str, _: Any) -> None:
            if event == "call":
                code = frame.f_code
                found = known.get(code)
                if found is None:
                    found = known[code] = uses.get(place(code), set())
                if found:
                    hits.update(found)

        began = time.process_time()
        sys.setprofile(called)
        try:
            failed = fails(item)
        finally:
            sys.setprofile(None)
        if failed:
            self.broken.append(item.nodeid)
            return
        for limit in hits:
            self.reached[limit].append((time.process_time() - began, item))

    def _move(self, move: Move) -> None:
        modules = users_of(move.room, move.name)
        limit: Limit = getattr(modules[0], move.name)
        moved = Limit(limit * move.factor, limit.unit, limit.meaning, setting=limit.setting)
        try:
            for module in modules:
                setattr(module, move.name, moved)
            spent_s = 0.0
            for took_s, item in sorted(self.reached[move.room, move.name], key=in_order):
                spent_s += took_s
                if took_s > LONGEST_S or spent_s > BUDGET_S:
                    return
                if fails(item):
                    self.noticed[move] = item.nodeid
                    return
        finally:
            for module in modules:
                setattr(module, move.name, limit)


def in_order(timed: tuple[float, pytest.Item]) -> tuple[bool, float]:
    """Ask those that were made for limits first, then the quickest."""
    took_s, item = timed
    return not item.path.stem.endswith("_limits"), took_s


def fails(item: pytest.Item) -> bool:
    """Run one test with fixtures of its own; tell whether it fails."""
    item._initrequest()  # type: ignore[attr-defined] # as plugins do that run a test again
    return any(report.failed for report in runtestprotocol(item, log=False, nextitem=None))


def tests_of(room: str) -> list[str]:
    """Return the test files of a room: those with its name, and a few more.

    What runs the whole command does so in processes of its own, where no limit is moved.
    """
    named = sorted(ROOT.glob(f"tests/*/test_{room}_*.py"))
    more = [ROOT / "tests" / name for name in ALSO[room]]
    return [str(path) for path in [*named, *more] if path.parent.name != "end_to_end"]


def unnoticed(room: str, names: list[str]) -> tuple[list[Move], int]:
    """Try every move of a room's limits; return those that nothing notices, and how many were."""
    wanted = [(room, name) for name in all_limits()[room] if not names or name in names]
    mover = Mover(wanted)
    options = ["-o", "addopts=", "-p", "no:cacheprovider", "-p", "no:terminal", *tests_of(room)]
    if pytest.main(options, plugins=[mover]) not in (0, 1):
        raise SystemExit(f"{room}: the tests could not be collected")
    for name in mover.broken:
        print(f"{name} fails without any move and says nothing")
    moves = [Move(*limit, factor) for limit in wanted for factor in FACTORS]
    return [move for move in moves if move not in mover.noticed], len(moves)


def main(arguments: list[str]) -> int:
    """Try every move and tell those that nothing notices."""
    asked: dict[str, list[str]] = {}
    for word in arguments or ROOMS:
        room, _, name = word.partition(".")
        asked.setdefault(room, []).extend([name] if name else [])
    left = 0
    for room, names in asked.items():
        moves, tried = unnoticed(room, names)
        print(f"{room}: {tried} moves, {len(moves)} unnoticed", flush=True)
        left += len(moves)
    return int(bool(left))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
