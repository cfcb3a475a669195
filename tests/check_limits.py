"""Move every limit by a third, up and down, and ask the tests of its room to notice.

``python -m tests.check_limits [ROOM ...]`` runs, for each limit of a room, the room's own tests
with that one number changed. A limit whose change passes them is named, and ends the run with 1.
"""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from auditor.model.limit import all_limits

ROOT = Path(__file__).parent.parent
FACTORS = (2 / 3, 4 / 3)
VARIABLE = "AUDITOR_TESTS_MOVED_LIMIT"
AT_ONCE = 2


def moves(rooms: list[str]) -> Iterator[tuple[str, str, float]]:
    """Yield every (room, limit, factor) to try."""
    for room, limits in all_limits().items():
        if not rooms or room in rooms:
            for name in limits:
                yield from ((room, name, factor) for factor in FACTORS)


def tests_of(room: str) -> list[str]:
    """Return the test files of a room: those with its name, and those of its findings."""
    found = sorted(ROOT.glob(f"tests/*/test_{room}_*.py"))
    return [str(path.relative_to(ROOT)) for path in found]


def passes(move: tuple[str, str, float]) -> bool:
    """Whether the room's tests pass with one limit moved."""
    room, name, factor = move
    environment = os.environ | {VARIABLE: f"auditor.{room}.limits:{name}:{factor}"}
    command = [sys.executable, "-m", "pytest", "-q", "-x", "-p", "tests.moved_limit", "-p",
               "no:cacheprovider", *tests_of(room)]  # fmt: skip
    ended = subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, check=False)
    return ended.returncode == 0


def main() -> int:
    """Try every move and tell those that nothing notices."""
    tried = list(moves(sys.argv[1:]))
    with ThreadPoolExecutor(AT_ONCE) as pool:
        unnoticed = [move for move, ok in zip(tried, pool.map(passes, tried), strict=True) if ok]
    for room, name, factor in unnoticed:
        print(f"{room}.{name} times {factor:.2f}: no test of the room fails")
    print(f"{len(tried)} moves, {len(unnoticed)} unnoticed")
    return int(bool(unnoticed))


if __name__ == "__main__":
    sys.exit(main())
