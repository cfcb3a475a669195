"""Much of the same work done by workers, its results in its own order."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from functools import partial

from auditor.model.errors import AuditorError
from auditor.model.outcome import Engine, Result, Task

TOGETHER = 8
"""Pieces of work that are sent together: to send one alone takes as long as its work."""


def spread(
    engine: Engine, function: Callable[[Task], Result], work: Sequence[Task]
) -> Iterator[Result]:
    """Yield what a function makes of each piece of work, as :func:`map` does.

    What workers fail at is done here, and all of it where there are none: then as ever a fault is
    raised.

    Parameters
    ----------
    engine : Engine
        On this machine. Function and work must be importable and picklable.
    """
    parts = [work[first : first + TOGETHER] for first in range(0, len(work), TOGETHER)]
    ended: dict[int, list[Result] | None] = {}
    done = 0
    with suppress(AuditorError):  # no worker can be started
        for outcome in engine.run(partial(_each, function), parts):
            ended[outcome.index] = outcome.value
            while done in ended:
                made, part = ended.pop(done), parts[done]
                done += 1
                yield from map(function, part) if made is None else made
    for part in parts[done:]:
        yield from map(function, part)


def _each(function: Callable[[Task], Result], part: Sequence[Task]) -> list[Result]:
    return [function(one) for one in part]
