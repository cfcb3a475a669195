"""What is worth knowing at the end of an audit: on standard output, problems on standard error."""

from __future__ import annotations

from rich.console import Console
from rich.table import Table
from rich.text import Text

from auditor.audit import AuditEnd
from auditor.console.words import plural
from auditor.model.audit import Audit, FrameResult
from auditor.model.text import visible
from auditor.report.frame_names import short_names, with_short_names
from auditor.rules import KINDS


def print_summary(end: AuditEnd, *, quiet: bool) -> None:
    """Print counts, lessons, and where the reports are; the files not read even when quiet."""
    audit = end.audit
    console = Console(highlight=False, quiet=quiet)
    console.print(_counts_table(audit))
    _print_lessons(console, audit)
    console.print()
    if _print_unread(Console(stderr=True, highlight=False), audit):
        console.print()
    for path in end.written[:6]:
        console.print(Text(f"Written: {visible(str(path))}"), soft_wrap=True)
    if len(end.written) > 6:
        console.print(Text(f"Written: {len(end.written) - 6} more beside them"))
    if not audit.complete:
        console.print(Text("This audit is partial. Run the same command again to go on."))


def _print_lessons(console: Console, audit: Audit) -> None:
    """Print the lessons, and after them the cautions that belong to their advice."""
    names = short_names(audit.frames)
    for number, lesson in enumerate(audit.lessons, 1):
        text, evidence = (with_short_names(part, names) for part in (lesson.text, lesson.evidence))
        grid = Table.grid(padding=(0, 1))
        grid.add_row(f"\n{number}.", Text(f"\n{visible(text)}", style="bold"))
        grid.add_row("", Text(visible(evidence), style="dim"))
        console.print(grid)
    kinds = (KINDS[lesson.code] for lesson in audit.lessons if lesson.code in KINDS)
    for caution in dict.fromkeys(kind.caution for kind in kinds if kind.caution):
        console.print(Text(f"\nCaution: {caution}"))


def _counts_table(audit: Audit) -> Table:
    table = Table(title="The shoot", title_justify="left", box=None, show_header=False)
    table.add_column(justify="right")
    table.add_column()
    verdicts = [_verdict(frame) for frame in audit.frames]
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
            table.add_row(str(number), f"{plural(number, noun)} {rest}".strip())
    return table


def _verdict(frame: FrameResult) -> str:
    """Return the verdict; of the dark end only where it was measured."""
    open_below = frame.verdict == "held" and frame.blocked_fraction is None
    return "bright end held" if open_below else frame.verdict


VERDICT_WORDS = {
    "held": ("frame", "held at both ends"),
    "bright end held": ("frame", "held at the bright end; the dark end is not measured"),
    "blown": ("frame", "blown"),
    "blocked": ("frame", "blocked up"),
    "both": ("frame", "blown and blocked up"),
    "dark frame": ("dark frame", ""),
    "unreadable": ("file", "that could not be read"),
}
"""Verdicts in the order in which they are counted out, with their words."""


def _print_unread(console: Console, audit: Audit) -> bool:
    """List the files that could not be read; return whether there are any."""
    unread = [frame for frame in audit.frames if frame.error is not None]
    if unread:
        console.print(Text("Could not be read:", style="bold"))
    for frame in unread:
        message = frame.error.message if frame.error else ""
        console.print(Text(f"   {visible(frame.id)}: {visible(message)}"), soft_wrap=True)
    return bool(unread)
