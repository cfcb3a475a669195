"""Floor 5: parse, call, exit status. No logic; colours and progress only here.

Everything heavy is imported inside the command that needs it: help answers at once.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, NoReturn

import typer

from auditor import __version__
from auditor.model.errors import AuditorError, WrongCall

if TYPE_CHECKING:
    from auditor.model.facts import Position
    from auditor.model.settings import Settings

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

OutOption = Annotated[
    Path, typer.Option("--out", "-o", help="Folder for the reports; made where it is missing.")
]
SettingsOption = Annotated[
    Path | None, typer.Option("--settings", help="TOML file with your own limits.")
]
StoreOption = Annotated[
    Path | None,
    typer.Option("--store", help="The file that remembers measurements and past shoots."),
]
NoStoreOption = Annotated[bool, typer.Option("--no-store", help="Remember nothing.")]
QuietOption = Annotated[bool, typer.Option("--quiet", "-q", help="Only problems are told.")]
FormatOption = Annotated[
    list[str] | None,
    typer.Option(
        "--format",
        "-f",
        help="html, png, json, csv or md; repeat for more than one. Default: html png json csv.",
    ),
]
PlaceOption = Annotated[
    str | None,
    typer.Option(
        "--at",
        metavar="LAT,LON",
        help="Where the pictures were taken, in degrees, when the files hold no position.",
    ),
]


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


@app.command(
    epilog="Exit status: 0 all files were read; 1 some could not be (they are listed); "
    "2 the call was wrong or nothing could be written."
)
def audit(
    paths: Annotated[
        list[str], typer.Argument(metavar="PATH...", help="Files and folders: a card, or several.")
    ],
    out: OutOption = Path("audit"),
    formats: FormatOption = None,
    workers: Annotated[
        int | None,
        typer.Option("--workers", min=1, help="Processes; default: the cores there are."),
    ] = None,
    cluster: Annotated[
        str | None, typer.Option("--cluster", metavar="ADDRESS", help="A Dask scheduler, tcp://...")
    ] = None,
    settings: SettingsOption = None,
    store: StoreOption = None,
    no_store: NoStoreOption = False,
    at: PlaceOption = None,
    quiet: QuietOption = False,
) -> None:
    r"""Audit a whole card: measure, judge, group, pair, and write the reports.

    \b
    auditor audit /media/card --out evening
    auditor audit /media/card-1 /media/card-2 --out evening --at 54.1,-3.2
    auditor audit shoots/2026 --out year --format json --format csv
    """
    from auditor.audit import AuditRequest, run_audit
    from auditor.console import ConsoleWatch, print_summary

    watch = ConsoleWatch(quiet=quiet)
    request = AuditRequest(
        paths=tuple(paths),
        out=out,
        formats=tuple(dict.fromkeys(formats or ("html", "png", "json", "csv"))),
        settings=_settings(settings),
        workers=workers,
        cluster=cluster,
        store=store,
        keep_store=not no_store,
        place=_place(at),
    )
    with watch:
        end = run_audit(request, watch)
    print_summary(end, quiet=quiet)
    raise typer.Exit(end.exit_status)


@app.command()
def frame(
    file: Annotated[str, typer.Argument(metavar="FILE", help="One raw file.")],
    out: OutOption = Path("audit"),
    settings: SettingsOption = None,
    quiet: QuietOption = False,
) -> None:
    r"""Write one frame's whole sheet: the same measures in depth, as PNG and JSON.

    \b
    auditor frame DCIM/100/IMG_0042.DNG --out sheets
    """
    from auditor.console import print_frame
    from auditor.single import audit_frame

    end = audit_frame(file, out, _settings(settings))
    print_frame(end, quiet=quiet)
    raise typer.Exit(end.exit_status)


@app.command()
def explain(
    code: Annotated[
        str | None, typer.Argument(metavar="[CODE]", help="A finding's code; none lists them all.")
    ] = None,
) -> None:
    r"""Say what a finding means, how it is measured, and what to do next time.

    \b
    auditor explain blown-area
    """
    from auditor.console import explanation, explanations

    typer.echo(explanations() if code is None else explanation(code))


def _settings(path: Path | None) -> Settings:
    from auditor.model.settings import Settings, load_settings

    return Settings() if path is None else load_settings(path)


def _place(text: str | None) -> Position | None:
    from auditor.model.facts import Position

    if text is None:
        return None
    try:
        latitude, longitude = (float(part) for part in text.split(","))
    except ValueError:
        raise WrongCall(
            f"--at takes LAT,LON in degrees, such as 54.1,-3.2; not {text!r}."
        ) from None
    if not (-90 <= latitude <= 90 and -180 <= longitude <= 180):
        raise WrongCall(f"--at {text}: there is no such place.")
    return Position(latitude, longitude)


def main() -> NoReturn:
    """Run the command; every error that a user can act on ends here, in one line."""
    try:
        app(standalone_mode=False)
    except AuditorError as error:
        typer.echo(f"auditor: {error}", err=True)
        sys.exit(error.exit_status)
    except typer.Exit as done:
        sys.exit(done.exit_code)
    except (KeyboardInterrupt, typer.Abort):
        typer.echo("auditor: stopped.", err=True)
        sys.exit(2)
    except Exception as error:
        show = getattr(error, "show", None)
        if show is None:
            raise
        show()
        sys.exit(2)
    sys.exit(0)
