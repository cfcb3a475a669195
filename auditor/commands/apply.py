"""The way back: marks become sidecars."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from auditor.commands.options import named_path
from auditor.model.text import visible

if TYPE_CHECKING:
    from auditor.sidecar.apply import ApplyReport


def apply(
    marks: Annotated[
        Path,
        typer.Argument(
            metavar="MARKS", parser=named_path, help="marks.json as saved from the report."
        ),
    ],
    to: Annotated[
        Path,
        typer.Option(
            "--to", parser=named_path, metavar="PATH", help="The folder that holds the frames."
        ),
    ],
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Only tell what would change.")
    ] = False,
    from_audit: Annotated[
        bool,
        typer.Option("--from-audit", help="MARKS is an audit.json: write the audit's own choice."),
    ] = False,
    naming: Annotated[
        str,
        typer.Option("--naming", help="A new sidecar's name: stem (A.xmp) or full (A.DNG.xmp)."),
    ] = "stem",
    only_input: Annotated[
        int | None, typer.Option("--input", min=0, help="Only the marks of that card, from 0.")
    ] = None,
) -> None:
    """Write culling marks as XMP sidecars; an existing one keeps all that is not ours.

    \b
    auditor apply marks.json --to /photos/evening --dry-run
    auditor apply marks.json --to /photos/evening
    auditor apply evening/audit.json --from-audit --to /photos/evening

    Raw files are never touched. keeper becomes xmp:Rating 4, spare 2, drop -1 (rejected).
    """
    from auditor.sidecar.apply import apply_marks
    from auditor.sidecar.from_audit import marks_from_audit

    wanted = marks_from_audit(marks) if from_audit else marks
    report = apply_marks(
        wanted,
        to,
        dry_run=dry_run,
        naming=naming,  # type: ignore[arg-type]
        only_input=only_input,
    )
    print_applied(report)
    raise typer.Exit(0 if report.complete else 1)


def print_applied(report: ApplyReport) -> None:
    """Print what became of each mark, and the counts."""
    for one in report.applied:
        if one.action == "unchanged":
            continue
        parts = [one.action, visible(one.file), ", ".join(one.changes), one.reason]
        typer.echo(": ".join(part for part in parts if part))
    actions = ("created", "updated", "unchanged", "missing", "refused")
    counts = ", ".join(f"{report.count(action)} {action}" for action in actions)
    would = "Nothing was written; it would be: " if report.dry_run else ""
    typer.echo(f"{would}{counts}.")
