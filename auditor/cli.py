"""Floor 5: parse, call, exit status. No logic; colours and progress only here.

Everything heavy is imported inside the command that needs it: help answers at once.
"""

from __future__ import annotations

import os
import re
import sys
from contextlib import suppress
from typing import Annotated, Any, NoReturn

import typer
from typer.core import TyperCommand

from auditor import __version__
from auditor.commands import apply, audit, explain, frame, history, nd_time, settings
from auditor.console.ending import end_in_good_order
from auditor.console.outlet import steady_streams
from auditor.model.errors import AuditorError
from auditor.model.text import visible, without_secrets
from auditor.words import calls

_OF_PYTHON = re.compile(r"^(  \S+) <\S+>", re.MULTILINE)
_BRACES = re.compile(r"\{([^}\n]+)\}(?:\.\.\.)?")


class PlainCommand(TyperCommand):
    """A command whose help names what is to be written, not the types of a language."""

    def get_help(self, ctx: Any) -> str:
        """Return the help without the types behind arguments."""
        return _OF_PYTHON.sub(r"\1", super().get_help(ctx))

    def format_usage(self, ctx: Any, formatter: Any) -> None:
        """Write the usage with arguments as they are called."""
        aside = ctx.make_formatter()
        super().format_usage(ctx, aside)
        formatter.write(_BRACES.sub(r"\1", aside.getvalue()))


app = typer.Typer(
    name="auditor",
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    help="""Measure what the sensor really recorded, for a whole card of raw files at once.

Start with:  auditor audit /path/to/card --out my-audit

It tells which frames are blown or blocked up, in which channel and where; how much more
light it could have taken; what the camera's preview hid; which short frame belongs to which
filtered long one and what the filter really measures; which frames of a bracket are needed.
The card is never written to.

\b
Then open my-audit/report.html.""",
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


app.command(cls=PlainCommand, short_help="Audit a whole card: the main job.", epilog=audit.EPILOG)(
    audit.audit
)
app.command(cls=PlainCommand, short_help="One frame's whole sheet.")(frame.frame)
app.command("nd-time", cls=PlainCommand, short_help="The shutter time behind filters.")(
    nd_time.nd_time
)
app.command(cls=PlainCommand, short_help="What the shoots so far have taught.")(history.history)
app.command(cls=PlainCommand, short_help="Write culling marks as XMP sidecars.")(apply.apply)
app.command(cls=PlainCommand, short_help="What a finding means.")(explain.explain)
app.command(cls=PlainCommand, short_help="What is in force, and from where.")(settings.settings)


BY_INTERRUPT = 130
"""What the shells make of the interrupt key, and typer when a command lets it through."""


def main() -> NoReturn:
    """Run the command; every error that a user can act on ends here, in one line."""
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # small vectors: waking threads costs more
    if os.environ.get("COLUMNS") == "0":
        del os.environ["COLUMNS"]  # so a terminal of unknown width tells; nothing fits into 0
    end_in_good_order()
    with steady_streams() as lost:
        status = _run()
    for error in lost:
        with suppress(OSError):
            typer.echo(calls.OUTPUT_LOST.format(reason=error.strerror), err=True)
    sys.exit(status or (2 if lost else 0))


def _run() -> int:
    if os.environ.get("AUDITOR_DEBUG"):
        from auditor.console.terminal import tell_decisions  # noqa: PLC0415 - seldom asked for

        tell_decisions()
    try:
        # out of standalone mode an exit status is returned rather than raised
        status = app(standalone_mode=False)
    except AuditorError as error:
        typer.echo(f"auditor: {visible(without_secrets(str(error)))}", err=True)
        return error.exit_status
    except SystemExit as done:
        return done.code if isinstance(done.code, int) else 0
    except (KeyboardInterrupt, typer.Abort):
        return _stopped()
    except Exception as error:
        return _told(error)
    return _stopped() if status == BY_INTERRUPT else int(status or 0)


def _told(error: Exception) -> int:
    """Tell of a call that the parser refused, of a folder that went away, or of our own fault."""
    show = getattr(error, "show", None)
    if show is not None:
        # what the parser does not understand may be an address with a password
        told = visible(without_secrets(getattr(error, "message", "")))
        vars(error).update(message=told)
        show()
    elif isinstance(error, FileNotFoundError) and not _has_current_folder():
        typer.echo(calls.FOLDER_GONE, err=True)
    else:
        from auditor.model.faults import keep_trace, trace_of  # noqa: PLC0415
        from auditor.words.unread import please_report  # noqa: PLC0415

        keep_trace(" ".join(sys.argv), trace_of(error))
        typer.echo(f"auditor: {please_report(error)}", err=True)
    return 2


def _has_current_folder() -> bool:
    try:
        os.getcwd()  # noqa: PTH109 - the same, and plainer to ask
    except OSError:
        return False
    return True


def _stopped() -> int:
    typer.echo(calls.STOPPED, err=True)
    return BY_INTERRUPT
