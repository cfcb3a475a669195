"""How an audit goes on, on standard error."""

from __future__ import annotations

import time
from collections.abc import Sequence
from typing import TYPE_CHECKING, Self

from rich.text import Text

from auditor.console.terminal import make_console
from auditor.model.errors import FrameFailure
from auditor.model.numbers import plural, time_text
from auditor.model.outcome import ProgressListener, Spent
from auditor.model.text import visible
from auditor.words import calls

if TYPE_CHECKING:
    from auditor.console.bar import Bar

PLAIN_EVERY_S = 10.0
"""Without a terminal, progress is a line now and then."""


EARLIEST = 6
"""From so many files on there is a rate: the first ones come in one wave, one a worker."""


def time_left_s(ended_s: Sequence[float], total: int, now_s: float) -> float | None:
    """Estimate how long the rest takes; None until it can be an estimate.

    Parameters
    ----------
    ended_s : sequence of float
        When each file ended, in order. The rate is counted from the first, so that what starting
        the workers took has no part in it.
    total : int
        How many files there are.
    now_s : float
    """
    if len(ended_s) < EARLIEST or now_s <= ended_s[0]:
        return None
    return (total - len(ended_s)) * (now_s - ended_s[0]) / (len(ended_s) - 1)


class ConsoleListener(ProgressListener):
    """Shows on standard error how an audit goes on; silent but for problems when quiet."""

    def __init__(self, *, quiet: bool, verbose: bool = False) -> None:
        self.quiet, self.verbose = quiet, verbose
        self.console = make_console(stderr=True)
        self.bar: Bar | None = None
        self.started_s = self.told_s = time.monotonic()
        self.total = 0
        self.ended_s: list[float] = []
        self.all_spent = Spent()

    @property
    def done(self) -> int:
        """How many files have ended."""
        return len(self.ended_s)

    def left_s(self) -> float | None:
        """Estimate the time left; None where there is no estimate yet."""
        return time_left_s(self.ended_s, self.total, time.monotonic())

    def __enter__(self) -> Self:
        """Start drawing, where there is a terminal to draw on."""
        if not self.quiet and self.console.is_terminal:
            from auditor.console.bar import Bar  # noqa: PLC0415 - slow to load

            self.bar = Bar(self.console, self.left_s)
            self.bar.start()
        return self

    def __exit__(self, *_ended: object) -> None:
        """Leave the terminal clean, whatever happened."""
        if self.bar is not None:
            self.bar.stop()

    def found(self, files: int, known: int, copies: int) -> None:
        """Tell how many files are there; how many were measured before, or are copies."""
        self.total, self.ended_s = files - known, []
        self.started_s = self.told_s = time.monotonic()
        known_text = f", {known} of them measured before" if known else ""
        copies_text = f", {copies} of them copies" if copies else ""
        self._say(f"{files} raw {plural(files, 'file')}{known_text}{copies_text}.")
        if self.bar is not None:
            self.bar.clear()  # begun again: something was lost meanwhile
            if self.total:
                self.bar.begin("Measuring", self.total)

    def examined(self, file: str, failure: FrameFailure | None) -> None:
        """Move the bar; name a file that could not be read at once, unless quiet.

        The end lists it in any case.
        """
        self.ended_s.append(time.monotonic())
        if self.bar is not None:
            self.bar.move(done=self.done)
        if self.verbose and failure is None:
            self._say(f"{visible(file)}: measured ({self.done} of {self.total})")
        if failure is not None and not self.quiet:
            self.warning(f"{file}: {failure.message}")
        now_s = time.monotonic()
        if not self.console.is_terminal and now_s - self.told_s >= PLAIN_EVERY_S:
            self.told_s = now_s
            rate = self.done / max(now_s - self.started_s, 1e-3)
            left_s = self.left_s()
            left = "" if left_s is None else f", {time_text(max(1.0, left_s))} left"
            pace = f"{rate:.1f} frames/s{self.pace_text(now_s - self.started_s)}"
            self._say(calls.MEASURED.format(done=self.done, total=self.total, pace=pace, left=left))

    def spent(self, spent: Spent) -> None:
        """Show how fast the card is read, and whether it or the decoding is the limit."""
        self.all_spent = spent
        if self.bar is not None:
            pace = self.pace_text(time.monotonic() - self.started_s)
            self.bar.move(f"Measuring{pace}")

    def pace_text(self, took_s: float) -> str:
        """Say how many megabytes a second are read, and what is the limit."""
        if not self.all_spent.size_bytes:
            return ""
        rate = self.all_spent.size_bytes / 1e6 / max(took_s, 1e-3)
        limit = "reading" if self.all_spent.reading_share > 0.5 else "decoding"
        return f", {rate:.0f} MB/s ({limit} is the limit)"

    def stage(self, text: str) -> None:
        """Tell that the next part of the work has begun."""
        if self.bar is not None:
            self.bar.begin(text, None)
        if not self.console.is_terminal:
            self._say(f"{text} ...")

    def drawn(self, done: int, pictures: int) -> None:
        """Move the bar of the pictures; without a terminal, tell how far they are now and then."""
        if self.bar is not None:
            self.bar.move("Drawing the sheets", done=done, total=pictures)
        now_s = time.monotonic()
        if not self.console.is_terminal and now_s - self.told_s >= PLAIN_EVERY_S:
            self.told_s = now_s
            self._say(calls.DRAWN.format(done=done, pictures=pictures))

    def warning(self, text: str) -> None:
        """Tell a problem, even when quiet."""
        self.console.print(Text(visible(text)), soft_wrap=True)

    def _say(self, text: str) -> None:
        if not self.quiet:
            self.console.print(Text(text), soft_wrap=True)
