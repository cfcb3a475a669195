"""The moving line on a terminal: what is done, of how many, how fast, and for how long yet."""

from __future__ import annotations

from collections.abc import Callable

from rich.console import Console
from rich.progress import (
    BarColumn,
    MofNCompleteColumn,
    Progress,
    ProgressColumn,
    Task,
    TaskID,
    TextColumn,
)
from rich.text import Text

from auditor.model.numbers import time_text


class Bar(Progress):
    """One line, of one part of the work at a time.

    Parameters
    ----------
    console : rich.console.Console
    left_s : callable
        Estimates the seconds left; None where there is no estimate yet.
    """

    def __init__(self, console: Console, left_s: Callable[[], float | None]) -> None:
        super().__init__(
            TextColumn("{task.description}"),
            BarColumn(),
            MofNCompleteColumn(),
            _Rate(),
            _Left(left_s),
            console=console,
            transient=True,
        )
        self._part: TaskID | None = None

    def begin(self, text: str, total: int | None) -> None:
        """Show the next part of the work in place of the one before."""
        self.clear()
        self._part = self.add_task(text, total=total)

    def clear(self) -> None:
        """Show nothing."""
        if self._part is not None:
            self.remove_task(self._part)
            self._part = None

    def move(
        self, text: str | None = None, *, done: int | None = None, total: int | None = None
    ) -> None:
        """Show the part as it is now."""
        if self._part is not None:
            self.update(self._part, description=text, completed=done, total=total)


class _Left(ProgressColumn):
    """The time left, once there is an estimate."""

    def __init__(self, left_s: Callable[[], float | None]) -> None:
        super().__init__()
        self._left_s = left_s

    def render(self, task: Task) -> Text:
        left_s = self._left_s() if task.total else None
        return Text("" if left_s is None else f"{time_text(max(1.0, left_s))} left")


class _Rate(ProgressColumn):
    """Frames a second."""

    def render(self, task: Task) -> Text:
        speed = task.finished_speed or task.speed
        return Text("" if speed is None else f"{speed:.1f} frames/s")
