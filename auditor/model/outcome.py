"""What comes back of work that was sent away, and who hears how it goes on."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from typing import Generic, Protocol, TypeVar

from auditor.model.errors import AuditorError, FrameFailure

Task = TypeVar("Task")
Result = TypeVar("Result")


@dataclass(frozen=True, slots=True)
class Outcome(Generic[Result]):
    """One task's end: a value or a failure, never both, never neither.

    Parameters
    ----------
    index : int
        Place of the task in the sequence that was sent.
    trace : str
        The traceback of a fault of this program; empty for every other failure.
    """

    index: int
    value: Result | None
    failure: FrameFailure | None = None
    trace: str = ""


@dataclass(frozen=True, slots=True)
class Spent:
    """What some files took: bytes read, and the workers' seconds of reading and of all else."""

    size_bytes: int = 0
    read_s: float = 0.0
    work_s: float = 0.0

    def __add__(self, other: Spent) -> Spent:
        """Add up."""
        return Spent(
            self.size_bytes + other.size_bytes,
            self.read_s + other.read_s,
            self.work_s + other.work_s,
        )

    @property
    def reading_share(self) -> float:
        """Share of the time that was spent reading; 0 of no time."""
        return self.read_s / max(self.read_s + self.work_s, 1e-9)


class ProgressListener:
    """Someone who hears how the work goes on; as it stands, one who passes over everything."""

    def found(self, files: int, known: int, copies: int) -> None:
        """Hear how many files are there; how many were measured before, or are copies."""

    def examined(self, file: str, failure: FrameFailure | None) -> None:
        """Hear that one file has ended, well or not."""

    def spent(self, spent: Spent) -> None:
        """Hear what all files examined so far took."""

    def stage(self, text: str) -> None:
        """Hear that the next part of the work has begun."""

    def drawn(self, done: int, pictures: int) -> None:
        """Hear how many of how many pictures are drawn."""

    def warning(self, text: str) -> None:
        """Hear something that should not wait for the end."""


class Engine(Protocol):
    """Something that maps a function over tasks and loses nothing.

    An engine knows nothing of frames: it starts workers, sends tasks, and yields one outcome
    for each task, in the order they end. A worker that dies, hangs or eats memory costs only
    its own task.
    """

    def run(
        self, function: Callable[[Task], Result], tasks: Sequence[Task]
    ) -> Iterator[Outcome[Result]]:
        """Yield exactly one outcome a task, as they end. Closing the iterator stops the work."""
        ...

    def close(self) -> None:
        """Stop all workers."""
        ...


def done(
    engine: Engine | None,
    work: Sequence[Callable[[], Result]],
    sent: Sequence[Callable[[], Result]],
) -> Iterator[tuple[int, Result]]:
    """Do some work and yield each place and what came of it, as it ends.

    Parameters
    ----------
    engine : Engine or None
        Does it; what comes to nothing there is done here.
    sent : sequence of callable
        The same work as it may be sent to other processes; none where it may not be.
    """
    here = dict.fromkeys(range(len(work)))
    with suppress(AuditorError):  # no process can be started
        for outcome in engine.run(call_it, sent) if engine and sent else ():
            if outcome.value is not None:
                del here[outcome.index]
                yield outcome.index, outcome.value[0]
    for place in here:
        yield place, work[place]()


def in_order(engine: Engine | None, work: Sequence[Callable[[], Result]]) -> Iterator[Result]:
    """Do some work that may be sent to other processes; yield what comes of it, in order."""
    early: dict[int, Result] = {}
    due = 0
    for place, result in done(engine, work, work):
        early[place] = result
        while due in early:
            yield early.pop(due)
            due += 1


def call_it(work: Callable[[], Result]) -> tuple[Result]:
    """Do one piece of work; whatever comes of it, it is something that can be told from nothing."""
    return (work(),)
