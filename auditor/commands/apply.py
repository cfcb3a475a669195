"""The way back: marks become sidecars."""

from __future__ import annotations

import signal
import sys
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from auditor.commands.options import named_path, not_together
from auditor.model.errors import WrongCall
from auditor.model.text import visible
from auditor.words import sidecars

if TYPE_CHECKING:
    from auditor.sidecar.apply import ApplyReport

STOPPED = 130


def apply(
    to: Annotated[
        Path,
        typer.Option(
            "--to", parser=named_path, metavar="FOLDER", help="The folder that holds the frames."
        ),
    ],
    marks: Annotated[
        Path | None,
        typer.Argument(
            metavar="MARKS", parser=named_path, help="marks.json as saved from the report."
        ),
    ] = None,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Only list each file and what would be written.")
    ] = False,
    from_audit: Annotated[
        bool,
        typer.Option("--from-audit", help="MARKS is an audit.json: write the audit's own choice."),
    ] = False,
    labels: Annotated[
        str | None,
        typer.Option(
            "--labels", metavar="KEEP,SECOND,DROP", help="Label texts that your converter colours."
        ),
    ] = None,
    naming: Annotated[
        str,
        typer.Option(
            "--naming",
            metavar="HOW",
            help="A new sidecar's name: stem (A.xmp) or full (A.DNG.xmp).",
        ),
    ] = "stem",
    only_input: Annotated[
        int | None,
        typer.Option(
            "--input", min=1, metavar="N", help="Only the marks of card N, as ids count them."
        ),
    ] = None,
    replace: Annotated[
        bool, typer.Option("--replace", help="Replace also what somebody else set.")
    ] = False,
    in_place: Annotated[
        bool, typer.Option("--in-place", help="The audited folder is a copy, not the card.")
    ] = False,
    undo: Annotated[
        bool, typer.Option("--undo", help="Take back the last run under FOLDER.")
    ] = False,
) -> None:
    """Write culling marks as XMP sidecars; ratings, labels and captions set by others stay.

    \b
    auditor apply marks.json --to /photos/evening --dry-run
    auditor apply marks.json --to /photos/evening
    auditor apply evening/audit.json --from-audit --to /photos/evening
    auditor apply --undo --to /photos/evening

    Raw files are never touched. keep becomes xmp:Rating 4, second 2, drop -1 (rejected).
    """
    from auditor.apply import apply_marks, undo_marks
    from auditor.commands.settings import own_settings
    from auditor.sidecar.from_audit import marks_from_audit
    from auditor.sidecar.merge import LABELS

    own = own_settings().labels
    not_together(undo=undo, from_audit=from_audit, labels=labels)
    if undo and marks is not None:
        raise WrongCall(sidecars.UNDO_WITH_MARKS)
    with _stopped_once():
        if undo:
            report = undo_marks(to, dry_run=dry_run, replace=replace)
        elif marks is None:
            raise WrongCall(sidecars.NO_MARKS)
        else:
            report = apply_marks(
                marks_from_audit(marks) if from_audit else marks,
                to,
                dry_run=dry_run,
                naming=naming,  # type: ignore[arg-type]
                only_input=only_input,
                labels=tuple(x.strip() for x in labels.split(",")) if labels else own or LABELS,
                replace=replace,
                in_place=in_place,
            )
        print_applied(report)
    if report.stopped:
        sys.exit(STOPPED)
    raise typer.Exit(0 if report.complete else 1)


@contextmanager
def _stopped_once() -> Iterator[None]:
    """Let the first interrupt end the work, and none after it the list of what was written."""

    def first(_number: int, _frame: object) -> None:
        signal.signal(signal.SIGINT, signal.SIG_IGN)
        raise KeyboardInterrupt

    before = signal.getsignal(signal.SIGINT)
    if before is not signal.SIG_IGN:
        signal.signal(signal.SIGINT, first)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


def print_applied(report: ApplyReport) -> None:
    """Print what became of each mark, and the counts."""
    for one in report.applied:
        if one.action == "unchanged" and not one.kept and not report.dry_run:
            continue
        name = visible(one.file)
        if one.sidecar is not None and not one.file.endswith(one.sidecar.name):
            name += f" ({visible(one.sidecar.name)})"
        remarks = "; ".join(filter(None, (*one.kept, one.reason)))
        parts = (one.action, name, ", ".join(one.changes), remarks)
        typer.echo(": ".join(filter(None, parts)))
    counts = Counter(one.action for one in report.applied)
    told = ", ".join(f"{number} {action}" for action, number in counts.items()) or "no marks"
    if report.stopped:
        typer.echo(sidecars.STOPPED.format(told=told))
    elif report.dry_run:
        typer.echo(sidecars.NOTHING_WRITTEN.format(told=told))
    else:
        typer.echo(f"{told[0].upper()}{told[1:]}.")
    if any(one.kept for one in report.applied):
        typer.echo(sidecars.KEPT)
