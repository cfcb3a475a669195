"""Floor 5: parse, call, exit status. No logic; colours and progress only here.

Everything heavy is imported inside the command that needs it: help answers at once.
"""

from __future__ import annotations

import os
import sys
from typing import Annotated, NoReturn

import typer

from auditor import __version__
from auditor.commands import apply, audit, explain, frame, history, nd_time
from auditor.model.errors import AuditorError

app = typer.Typer(
    name="auditor",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    help="""Measure what the sensor really recorded, for a whole card of raw files at once.

Start with:  auditor audit /path/to/card --out my-audit

It tells which frames are blown or blocked up, in which channel and where; how much light was
still to be had; what the camera's preview hid; which short frame belongs to which filtered long
one and what the filter really held back; which frames of a bracket are needed. Then open
my-audit/report.html. The card is never written to.""",
)


def _print_version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"auditor {__version__}")
        raise typer.Exit


@app.callback()
def _top(
    version: Annotated[
        bool,
        typer.Option("--version", callback=_print_version, is_eager=True, help="Tell the version."),
    ] = False,
) -> None:
    pass


app.command(short_help="Audit a whole card: the main job.", epilog=audit.EPILOG)(audit.audit)
app.command(short_help="One frame's whole sheet.")(frame.frame)
app.command("nd-time", short_help="The shutter time behind filters.")(nd_time.nd_time)
app.command(short_help="What the shoots so far have taught.")(history.history)
app.command(short_help="Write culling marks as XMP sidecars.")(apply.apply)
app.command(short_help="What a finding means.")(explain.explain)


INTERRUPTED_STATUS = 130


def main() -> NoReturn:
    """Run the command; every error that a user can act on ends here, in one line."""
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # small vectors: waking threads costs more
    try:
        status = app(standalone_mode=False)
    except AuditorError as error:
        typer.echo(f"auditor: {error}", err=True)
        sys.exit(error.exit_status)
    except typer.Exit as done:
        sys.exit(done.exit_code)
    except (KeyboardInterrupt, typer.Abort):
        _stopped()
    except Exception as error:
        show = getattr(error, "show", None)
        if show is None:
            raise
        show()
        sys.exit(2)
    # out of standalone mode an exit status is returned rather than raised
    if status == INTERRUPTED_STATUS:
        _stopped()
    sys.exit(status or 0)


def _stopped() -> NoReturn:
    typer.echo("auditor: stopped. Every report is whole, or as it was before.", err=True)
    sys.exit(2)
