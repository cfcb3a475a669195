"""What is worth knowing at the end of an audit: on standard output, problems on standard error."""

from __future__ import annotations

import webbrowser
from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from pathlib import Path

from rich.console import Console
from rich.table import Table
from rich.text import Text

from auditor.audit import AuditEnd
from auditor.console.progress import ConsoleListener
from auditor.console.terminal import make_console
from auditor.model.audit import Audit, FrameResult
from auditor.model.codes import Verdict
from auditor.model.numbers import counted, plural
from auditor.model.text import visible
from auditor.report.frame_names import short_names, with_short_names
from auditor.report.write import SHEETS
from auditor.words import calls
from auditor.words.cautions import IN_ONE_LINE
from auditor.words.kinds import KINDS
from auditor.words.light import FORECAST_NOTE, forecast_of
from auditor.words.next_time import FILTER_TIMES_NOTE, next_times

MOST_SETUPS = 10
"""Settings for next time that the terminal tells; the reports tell all."""


def print_summary(end: AuditEnd, *, quiet: bool, aside: bool = False) -> None:
    """Print counts, lessons, and where the reports are; the files not read even when quiet.

    Parameters
    ----------
    aside : bool
        Print on standard error: standard output is for something else.

    Notes
    -----
    On a terminal each lesson takes a paragraph. Elsewhere a lesson is one line, and each finding
    is one: "FRAME: CODE: what it says", to be searched and cut.
    """
    audit = end.audit
    console = make_console(quiet=quiet, stderr=aside)
    console.print(_counts_table(audit))
    if console.is_terminal:
        _print_lessons(console, audit)
    else:
        _print_lines(console, audit)
    console.print()
    if _print_unread(make_console(stderr=True), audit):
        console.print()
    if end.renewed:
        told = " and ".join(end.renewed)
        console.print(Text(calls.MADE_ANEW.format(told=told)))
    for line in report_lines(end.written, end.unchanged):
        console.print(Text(visible(line)), soft_wrap=True)


def report_lines(written: Sequence[Path], unchanged: int = 0) -> Iterator[str]:
    """Yield where the report is, by itself, and then what lies beside it, counted."""
    if not written:
        return
    report = min(written, key=lambda path: _READ_FIRST.get(path.name, len(_READ_FIRST)))
    yield f"Report: {report}"
    kinds: Counter[str] = Counter()
    for path in (path for path in written if path != report):
        if path.name.startswith("contact-sheet"):
            kinds["contact sheet"] += 1
        elif path.parent == report.parent:
            kinds[path.name] = 0  # it goes by its own name
        else:
            kinds["sheet" if path.parent.name == SHEETS else "picture"] += 1
    rest = [counted(number, noun) if number else noun for noun, number in kinds.items()]
    if rest:
        as_before = f" ({unchanged:,} of all as they were)" if unchanged else ""
        yield f"Beside it: {', '.join(rest)}{as_before}"


def open_page(written: Sequence[Path], listener: ConsoleListener) -> None:
    """Open the page in the browser; tell where it lies when nothing opens it."""
    page = next((path for path in written if path.name == "report.html"), None)
    if page is not None and not webbrowser.open(page.as_uri()):
        listener.warning(calls.NO_BROWSER.format(page=page))


_READ_FIRST = {
    name: rank
    for rank, name in enumerate(
        ("report.html", "answer.pdf", "report.md", "audit.json", "frames.csv")
    )
}


def _print_lessons(console: Console, audit: Audit) -> None:
    """Print lessons, settings for next time, and in one line the caution that belongs to them."""
    names = short_names(audit.frames)
    for number, lesson in enumerate(audit.lessons, 1):
        text, evidence = (with_short_names(part, names) for part in (lesson.text, lesson.evidence))
        grid = Table.grid(padding=(0, 1))
        grid.add_row(f"\n{number}.", Text(f"\n{visible(text)}", style="bold"))
        grid.add_row("", Text(visible(evidence), style="dim"))
        console.print(grid)
    told = next_times(audit.setups)
    if told:  # a line for what belongs together, the latest last
        console.print(Text("\nNext time", style="bold"))
        grid = Table.grid(padding=(0, 2))
        for setups, advice in told[-MOST_SETUPS:]:
            grid.add_row(setups, forecast_of(advice, audit), Text(visible(advice.text)))
        console.print(grid)
        beside = [FILTER_TIMES_NOTE] if any(advice.behind for _, advice in told) else []
        if audit.forecast:
            beside.append(f"Times of the day after: {FORECAST_NOTE.lower()}")
        if len(told) > MOST_SETUPS:
            beside.append(calls.MORE_IN_REPORT.format(count=len(told) - MOST_SETUPS))
        for note in beside:
            console.print(Text(note, style="dim"))
    kinds = (KINDS[lesson.code] for lesson in audit.lessons if lesson.code in KINDS)
    if any(kind.caution for kind in kinds):
        console.print(Text(f"\nCaution: {IN_ONE_LINE}"))


def _print_lines(console: Console, audit: Audit) -> None:
    """Print a finding a line, the lessons likewise, and the caution."""
    names = short_names(audit.frames)
    for frame in audit.frames:
        for finding in frame.findings:
            console.print(Text(f"{visible(frame.id)}: {finding.code}: {visible(finding.text)}"))
    for number, lesson in enumerate(audit.lessons, 1):
        told = with_short_names(f"{lesson.text} {lesson.evidence}".strip(), names)
        console.print(Text(f"{number}. {visible(told)}"))
    for setups, advice in next_times(audit.setups):
        when = forecast_of(advice, audit)
        told = f"Next time, {setups}{f' ({when}, the day after)' if when else ''}: {advice.text}"
        console.print(Text(visible(told)))
    console.print(Text(f"Caution: {IN_ONE_LINE}"))


def _counts_table(audit: Audit) -> Table:
    table = Table(title="The shoot", title_justify="left", box=None, show_header=False)
    table.add_column(justify="right")
    table.add_column()
    verdicts: Counter[str] = Counter()
    for frame in audit.frames:
        open_below = frame.verdict == Verdict.HELD and frame.blocked_fraction is None
        if frame.error is not None and frame.error.code == "interrupted":
            verdicts["not reached"] += 1
        else:  # of the dark end only where it was measured
            verdicts["bright end held" if open_below else frame.verdict] += 1
    counts = [(verdicts[verdict], *words) for verdict, words in VERDICT_WORDS.items()]
    counts += [
        (len(audit.setups), "set-up", "(one tripod position, one framing)"),
        (sum(pair.best for pair in audit.siblings), "filtered frame", "paired with a short one"),
        (len(audit.brackets), "bracket", ""),
        (len(audit.grads), "graduated filter", "measured"),
        (len(audit.panoramas), "panorama", ""),
        (len(audit.keepers), "frame", "to keep"),
    ]
    for number, noun, rest in counts:
        if number:
            table.add_row(str(number), f"{plural(number, noun)} {rest}".strip())
    return table


VERDICT_WORDS = {
    "held": ("frame", "held at both ends"),
    "bright end held": ("frame", "held at the bright end; the dark end is not measured"),
    "may be clipped": ("frame", "may be clipped"),
    "blown": ("frame", "blown"),
    "blocked": ("frame", "blocked up"),
    "both": ("frame", "blown and blocked up"),
    "dark frame": ("dark frame", ""),
    "unreadable": ("file", "that could not be read"),
    "not reached": ("file", "not reached before the stop"),
}
"""Verdicts in the order in which they are counted out, with their words."""


MOST_ALIKE = 20
"""So many files with one and the same reason are named; the reports name all."""


def _print_unread(console: Console, audit: Audit) -> bool:
    """List the files that could not be read; return whether there are any."""
    alike: defaultdict[str, list[FrameResult]] = defaultdict(list)
    for frame in audit.frames:
        if frame.error is not None and frame.error.code != "interrupted":
            alike[frame.error.message].append(frame)
    if alike:
        console.print(Text("Could not be read:", style="bold"))
    for message, frames in alike.items():
        for frame in frames[:MOST_ALIKE]:
            console.print(Text(f"   {visible(frame.id)}: {visible(message)}"), soft_wrap=True)
        if len(frames) > MOST_ALIKE:
            console.print(Text(f"   and {len(frames) - MOST_ALIKE} more, for the same reason"))
    return bool(alike)
