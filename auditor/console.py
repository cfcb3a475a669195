"""Floor 5: what the terminal shows. Text from files is made visible before it is printed."""

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
from rich.table import Table
from rich.text import Text

from auditor.audit import AuditEnd
from auditor.model.audit import Audit, FrameResult
from auditor.model.errors import FrameFailure
from auditor.model.numbers import share_text, stops_text, time_text
from auditor.model.text import visible
from auditor.report.page_optics import optics_facts
from auditor.single import FrameEnd

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
        self._say(f"{files} raw {_plural(files, 'file')}{known_text}{copies_text}.")
        if self.total:
            self.task = self.progress.add_task("Measuring", total=self.total)

    def examined(self, file: str, failure: FrameFailure | None) -> None:
        """Move the bar; name a file that could not be read at once."""
        self.done += 1
        if self.task is not None:
            self.progress.advance(self.task)
        if failure is not None:
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


def print_summary(end: AuditEnd, *, quiet: bool) -> None:
    """Print what is worth knowing at the end: counts, lessons, where the report is."""
    if quiet:
        return
    console = Console(highlight=False)
    audit = end.audit
    console.print(_counts_table(audit))
    for number, lesson in enumerate(audit.lessons, 1):
        console.print(Text(f"\n{number}. {visible(lesson.text)}", style="bold"))
        console.print(Text(f"   {visible(lesson.evidence)}", style="dim"))
    _print_unread(console, audit)
    console.print()
    for path in end.written[:6]:
        console.print(Text(f"Written: {path}"), soft_wrap=True)
    if len(end.written) > 6:
        console.print(Text(f"Written: {len(end.written) - 6} more beside them"))
    if not audit.complete:
        console.print(Text("This audit is partial. Run the same command again to go on."))


def _counts_table(audit: Audit) -> Table:
    table = Table(title="The shoot", title_justify="left", box=None, show_header=False)
    table.add_column(justify="right")
    table.add_column()
    verdicts = [frame.verdict for frame in audit.frames]
    counts = [(verdicts.count(verdict), *words) for verdict, words in VERDICT_WORDS.items()]
    counts += [
        (len(audit.setups), "set-up", "(one tripod position, one framing)"),
        (sum(pair.best for pair in audit.siblings), "filtered frame", "paired with a short one"),
        (len(audit.brackets), "bracket", ""),
        (len(audit.grads), "graduated filter", "measured"),
        (len(audit.runs), "panned run", ""),
        (len(audit.keepers), "frame", "to keep"),
    ]
    for number, noun, rest in counts:
        if number:
            table.add_row(str(number), f"{_plural(number, noun)} {rest}".strip())
    return table


def _plural(number: int, noun: str) -> str:
    return noun if number == 1 else f"{noun}s"


VERDICT_WORDS = {
    "held": ("frame", "held at both ends"),
    "blown": ("frame", "blown"),
    "blocked": ("frame", "blocked up"),
    "both": ("frame", "blown and blocked up"),
    "dark frame": ("dark frame", ""),
    "unreadable": ("file", "that could not be read"),
}
"""Verdicts in the order in which they are counted out, with their words."""


def _print_unread(console: Console, audit: Audit) -> None:
    unread = [frame for frame in audit.frames if frame.error is not None]
    if unread:
        console.print(Text("\nCould not be read:", style="bold"))
    for frame in unread:
        message = frame.error.message if frame.error else ""
        console.print(Text(f"   {visible(frame.id)}: {visible(message)}"), soft_wrap=True)


def print_frame(end: FrameEnd, *, quiet: bool) -> None:
    """Print one frame's figures as a table."""
    result = end.result
    console = Console(highlight=False)
    if result.error is not None:
        Console(stderr=True, highlight=False).print(
            Text(f"{visible(result.file)}: {visible(result.error.message)}"), soft_wrap=True
        )
    if quiet:
        return
    if result.channels:
        console.print(_channel_table(result))
    for finding in result.findings:
        console.print(Text(f"{finding.code}: {visible(finding.text)}"))
    for fact in optics_facts(result):
        told = Text(f"{fact.label}: {fact.text}")
        console.print(told.append(f" ({fact.remark})" if fact.remark else "", style="dim"))
    for path in end.written:
        console.print(Text(f"Written: {path}"), soft_wrap=True)


def _channel_table(result: FrameResult) -> Table:
    table = Table(title=Text(f"{visible(result.file)}: {result.verdict}"), box=None)
    table.title_justify = "left"
    for name in ("", "black", "clips at", "floor", "blown", "blocked", "headroom", "shadow room"):
        table.add_column(name, justify="right", no_wrap=True)
    for channel in result.channels:
        floor, blocked = channel.noise_floor_dn, channel.blocked_fraction
        table.add_row(
            channel.name,
            f"{channel.black_dn:.1f}",
            f"{channel.saturation_dn:.0f}",
            "–" if floor is None else f"{floor:.1f}",
            share_text(channel.blown_fraction),
            "–" if blocked is None else share_text(blocked),
            stops_text(channel.headroom_stops),
            stops_text(channel.shadow_room_stops),
        )
    sources = {channel.saturation_source for channel in result.channels}
    table.caption = f"Levels in DN, rooms in stops. Clipping level: {', '.join(sorted(sources))}."
    table.caption_justify = "left"
    return table
