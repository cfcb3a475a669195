"""How an audit goes on, on standard error."""

from __future__ import annotations

import time
from types import TracebackType
from typing import Self

from rich.console import Console
from rich.progress import (
    BarColumn,
    MofNCompleteColumn,
    Progress,
    ProgressColumn,
    Task,
    TaskID,
    TextColumn,
    TimeRemainingColumn,
)
from rich.text import Text

from auditor.console.words import plural
from auditor.model.errors import FrameFailure
from auditor.model.numbers import time_text
from auditor.model.text import visible

PLAIN_EVERY_S = 10.0
"""Without a terminal, progress is a line now and then."""


class _Rate(ProgressColumn):
    """Frames a second."""

    def render(self, task: Task) -> Text:
        speed = task.finished_speed or task.speed
        return Text("" if speed is None else f"{speed:.1f} frames/s")


class ConsoleWatch:
    """Shows on standard error how an audit goes on; silent but for problems when quiet."""

    def __init__(self, *, quiet: bool) -> None:
        self.quiet = quiet
        self.console = Console(stderr=True, highlight=False)
        self.progress = Progress(
            TextColumn("{task.description}"),
            BarColumn(),
            MofNCompleteColumn(),
            _Rate(),
            TextColumn("left"),
            TimeRemainingColumn(),
            console=self.console,
            transient=True,
            disable=quiet or not self.console.is_terminal,
        )
        self.task: TaskID | None = None
        self.started_s = self.told_s = time.monotonic()
        self.total = self.done = 0

    def __enter__(self) -> Self:
        """Start drawing."""
        self.progress.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Leave the terminal clean, whatever happened."""
        self.progress.stop()

    def found(self, files: int, known: int, copies: int) -> None:
        """Tell how many files are there; how many were measured before, or are copies."""
        self.total, self.done = files - known - copies, 0
        self.started_s = self.told_s = time.monotonic()
        known_text = f", {known} of them measured before" if known else ""
        copies_text = f", {copies} of them copies" if copies else ""
        self._say(f"{files} raw {plural(files, 'file')}{known_text}{copies_text}.")
        if self.task is not None:  # begun again: something was lost meanwhile
            self.progress.remove_task(self.task)
            self.task = None
        if self.total:
            self.task = self.progress.add_task("Measuring", total=self.total)

    def examined(self, file: str, failure: FrameFailure | None) -> None:
        """Move the bar; name a file that could not be read at once, unless quiet.

        The end lists it in any case.
        """
        self.done += 1
        if self.task is not None:
            self.progress.advance(self.task)
        if failure is not None and not self.quiet:
            self.warning(f"{file}: {failure.message}")
        self._tell_plainly()

    def stage(self, text: str) -> None:
        """Tell that the next part of the work has begun."""
        if self.task is not None:
            self.progress.remove_task(self.task)
        self.task = self.progress.add_task(text, total=None)
        if not self.console.is_terminal:
            self._say(f"{text} ...")

    def warning(self, text: str) -> None:
        """Tell a problem, even when quiet."""
        self.console.print(Text(visible(text)), soft_wrap=True)

    def _tell_plainly(self) -> None:
        now_s = time.monotonic()
        if self.console.is_terminal or now_s - self.told_s < PLAIN_EVERY_S:
            return
        self.told_s = now_s
        rate = self.done / max(now_s - self.started_s, 1e-3)
        left_s = (self.total - self.done) / rate
        self._say(
            f"Measured {self.done} of {self.total}, {rate:.1f} frames/s, {time_text(left_s)} left."
        )

    def _say(self, text: str) -> None:
        if not self.quiet:
            self.console.print(Text(text), soft_wrap=True)
