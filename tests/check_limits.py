"""Move every limit by a third, up and down, and ask the tests to notice.

``python -m tests.check_limits [ROOM[.LIMIT] ...]`` runs tests once and notes which of them reach a
line that reads a limit. Each of these is run again with the limit moved, the quickest first, until
one fails. The tests made for a room's limits are asked first, then those that import the module
that reads one, then those of the room and those that import what calls that module: each only for
the moves that those before it let pass. A move that none notices is named, and ends the run with 1.
A limit is moved in memory alone: no file is touched. ``make check-limits ROOMS="black defects"``.
"""

from __future__ import annotations

import ast
import dis
import subprocess
import sys
import time
from collections import defaultdict
from collections.abc import Iterable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from functools import _lru_cache_wrapper, cache, cached_property
from importlib import import_module
from inspect import getsource
from pathlib import Path
from types import CodeType, FrameType, ModuleType
from typing import Any

import pytest
from _pytest.runner import runtestprotocol

from auditor.model.limit import ROOMS, Limit, all_limits

ROOT = Path(__file__).parent.parent
FACTORS = (2 / 3, 4 / 3)

PARTS = ("unit", "property", "outside")
"""Folders of tests that are asked."""

LAST = 3
"""Rank from which on tests are not asked."""

LONGEST_S = 4.0
"""Of processor time: a test that takes longer is asked for no move."""

BUDGET_S = 5.0
"""Of processor time: for one move no more is asked of the tests of one rank."""

CASES_S = 3.0
"""Of processor time: after it the other cases of a test are not run."""

AT_ONCE = 2
"""Processes, where more than one room is asked for."""

AT_MOST = 40
"""Limits that one process moves."""


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


@cache
def names_read(module: ModuleType) -> dict[str, set[int]]:
    """Return by name the lines on which functions of a module read it.

    A name that is read while the module is loaded has line 0 among them: moved later, it would
    change nothing.
    """
    lines: dict[str, set[int]] = defaultdict(set)
    waiting = [compile(getsource(module), module.__file__ or "", "exec")]
    while waiting:
        code = waiting.pop()
        waiting += [part for part in code.co_consts if isinstance(part, CodeType)]
        for step in dis.get_instructions(code):
            if step.opname == "LOAD_NAME":
                lines[step.argval].add(0)
            elif step.opname == "LOAD_GLOBAL" and step.positions:
                lines[step.argval].add(step.positions.lineno or 0)
    return dict(lines)


@cache
def load_package() -> None:
    """Import every module of the package: what is loaded later would read a limit unseen."""
    for name in modules():
        if not name.endswith("__main__"):
            import_module(name.removesuffix(".__init__"))


def readers_of(room: str, name: str) -> list[ModuleType]:
    """Return the modules whose functions read a limit, the package loaded as a whole."""
    load_package()
    return [module for module in users_of(room, name) if name in names_read(module)]


@dataclass
class Reach:
    """Which limits a test reads while it runs."""

    limits: Iterable[tuple[str, str]]
    uses: dict[tuple[str, int], set[tuple[str, str]]] = field(
        default_factory=lambda: defaultdict(set)
    )
    hits: set[tuple[str, str]] = field(default_factory=set)
    watched: dict[CodeType, bool] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Look up where each limit is read."""
        for limit in self.limits:
            for module in readers_of(*limit):
                lines = names_read(module)[limit[1]]
                if 0 in lines and not module.__name__.endswith(".limits"):
                    print(f"{module.__name__} reads {limit[1]} when it is loaded: it cannot move")
                for line in lines:
                    self.uses[module.__file__ or "", line].add(limit)

    def called(self, frame: FrameType, event: str, _: Any) -> Any:
        """Follow the lines of functions that read a limit."""
        code = frame.f_code
        watched = self.watched.get(code)
        if watched is None:
            lines = {line for *_, line in code.co_lines()}
            watched = any((code.co_filename, line) in self.uses for line in lines if line)
            self.watched[code] = watched
        return self.line if watched else None

    def line(self, frame: FrameType, event: str, _: Any) -> Any:
        """Note a line that was run."""
        if event == "line":
            self.hits |= self.uses.get((frame.f_code.co_filename, frame.f_lineno), set())
        return self.line


@dataclass
class Mover:
    """The plugin: runs each test once, then those that reach a limit with the limit moved."""

    room: str
    left: list[Move]
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
        """Move limits, rank by rank of tests, until every move is noticed or no test is left."""
        waiting = list(session.items)
        for rank in range(LAST):
            ranks = Ranks(self.room, frozenset(map(limit_of, self.left)))
            ranked = [(ranks.of(item.path) <= rank, item) for item in waiting]
            waiting = [item for now, item in ranked if not now]
            reached: dict[tuple[str, str], list[tuple[float, pytest.Item]]] = defaultdict(list)
            spent_s: dict[str, float] = defaultdict(float)
            for item in [item for now, item in ranked if now] if self.left else ():
                test = item.nodeid.partition("[")[0]
                if spent_s[test] > CASES_S:
                    continue
                took_s, hits = self._watch(item)
                spent_s[test] += took_s
                for limit in hits if took_s <= LONGEST_S else ():
                    reached[limit].append((took_s, item))
            ordered = {key: sorted(found, key=lambda one: one[0]) for key, found in reached.items()}
            passed: list[Move] = []
            for move in self.left:
                if not noticed(move, ordered.get(limit_of(move), [])):
                    passed.append(move)
                    if rank == LAST - 1:
                        print(f"{move}: no test fails", file=sys.__stdout__, flush=True)
            self.left = passed
        return True

    def _watch(self, item: pytest.Item) -> tuple[float, set[tuple[str, str]]]:
        """Run a test with nothing moved; return its time and the limits that it reads."""
        reach = Reach({limit_of(move) for move in self.left})
        began = time.process_time()
        sys.settrace(reach.called)
        try:
            failed = fails(item)
        finally:
            sys.settrace(None)
        if failed:
            self.broken.append(item.nodeid)
        return time.process_time() - began, set() if failed else reach.hits


def limit_of(move: Move) -> tuple[str, str]:
    """Return the room and the name of what is moved."""
    return move.room, move.name


def forget() -> None:
    """Let go of what functions keep of earlier calls: it was made with other limits."""
    for module in [one for key, one in sys.modules.items() if key.startswith("auditor.")]:
        for value in list(vars(module).values()):
            if isinstance(value, _lru_cache_wrapper):
                value.cache_clear()


def noticed(move: Move, timed: list[tuple[float, pytest.Item]]) -> bool:
    """Tell whether a test fails with a limit moved."""
    modules = users_of(move.room, move.name)
    limit: Limit = getattr(modules[0], move.name)
    moved = Limit(limit * move.factor, limit.unit, limit.meaning, setting=limit.setting)
    try:
        for module in modules:
            setattr(module, move.name, moved)
        forget()
        began = time.process_time()
        for _, item in timed:
            if time.process_time() - began > BUDGET_S:
                return False
            if fails(item):
                return True
        return False
    finally:
        for module in modules:
            setattr(module, move.name, limit)
        forget()


def fails(item: pytest.Item) -> bool:
    """Run one test with fixtures of its own; tell whether it fails."""
    item._initrequest()  # type: ignore[attr-defined] # as plugins do that run a test again
    return any(report.failed for report in runtestprotocol(item, log=False, nextitem=None))


@cache
def imports_of(path: Path) -> frozenset[str]:
    """Return the modules that a test file imports from."""
    nodes = ast.walk(ast.parse(path.read_text("utf-8")))
    return frozenset(node.module or "" for node in nodes if isinstance(node, ast.ImportFrom))


@cache
def modules() -> dict[str, frozenset[str]]:
    """Return by module of the package what it imports from."""
    paths = (ROOT / "auditor").rglob("*.py")
    return {
        ".".join(path.relative_to(ROOT).with_suffix("").parts): imports_of(path) for path in paths
    }


@dataclass(frozen=True)
class Ranks:
    """Which tests are asked first of some limits: those near to what reads them."""

    room: str
    limits: frozenset[tuple[str, str]]

    @cached_property
    def reading(self) -> frozenset[str]:
        """The modules that read one of them."""
        return frozenset(one.__name__ for limit in self.limits for one in readers_of(*limit))

    @cached_property
    def calling(self) -> frozenset[str]:
        """The modules that import from those."""
        return frozenset(name for name, names in modules().items() if names & self.reading)

    def of(self, path: Path) -> int:
        """Rank a file of tests."""
        named, names = path.name.startswith(f"test_{self.room}_"), imports_of(path)
        if named and path.stem.endswith("_limits"):
            return 0
        if names & self.reading:
            return 1
        return 2 if named or names & self.calling else 3


def tests_near(ranks: Ranks) -> list[str]:
    """Return the test files that are near enough to some limits.

    What runs the whole command does so in processes of its own, where no limit is moved.
    """
    paths = [path for part in PARTS for path in sorted((ROOT / "tests" / part).glob("test_*.py"))]
    return [str(path) for path in paths if ranks.of(path) < LAST]


def unnoticed(room: str, names: list[str]) -> bool:
    """Try every move of some limits of a room; name those that nothing notices."""
    moves = [Move(room, name, factor) for name in names for factor in FACTORS]
    mover, ranks = Mover(room, moves), Ranks(room, frozenset(map(limit_of, moves)))
    options = ["-o", "addopts=", "-p", "no:cacheprovider", "-p", "no:terminal", *tests_near(ranks)]
    began = time.monotonic()
    if pytest.main(options, plugins=[mover]) not in (0, 1):
        raise SystemExit(f"{room}: the tests could not be collected")
    for name in mover.broken:
        print(f"{name} fails without any move and says nothing")
    took_s = time.monotonic() - began
    print(f"{room}: {len(moves)} moves, {len(mover.left)} unnoticed, {took_s:.0f} s", flush=True)
    return bool(mover.left)


def part(words: list[str]) -> int:
    """Let a process of its own try the limits of one room."""
    return subprocess.run([sys.executable, "-m", __spec__.name, *words], check=False).returncode


def main(arguments: list[str]) -> int:
    """Try every move and tell those that nothing notices."""
    asked: dict[str, list[str]] = defaultdict(list)
    for word in arguments or ROOMS:
        room, _, name = word.partition(".")
        asked[room] += [name] if name else all_limits()[room]
    parts = [
        (room, names[first :: -(-len(names) // AT_MOST)])
        for room, names in asked.items()
        for first in range(-(-len(names) // AT_MOST))
    ]
    if len(parts) == 1:
        return int(unnoticed(*parts[0]))
    with ThreadPoolExecutor(AT_ONCE) as pool:
        words = [[f"{room}.{name}" for name in names] for room, names in parts]
        return max(pool.map(part, words))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
