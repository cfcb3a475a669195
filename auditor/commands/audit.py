"""The main job."""

from __future__ import annotations

import shlex
import sys
from contextlib import closing
from typing import Annotated

import typer

from auditor.commands.options import (
    DEFAULT_FORMATS,
    DebugOption,
    FormatOption,
    NoStoreOption,
    OutOption,
    PlaceOption,
    QuietOption,
    SettingsOption,
    StoreOption,
    chosen_formats,
    decimal_number,
    keep_traces_in,
    not_together,
    place_from_text,
)
from auditor.model.errors import WrongCall
from auditor.model.text import visible
from auditor.words import calls

EPILOG = (
    "Exit status: 0 all files were read; 1 some could not be (they are listed); "
    "2 the call was wrong, there was no raw file, no file could be measured through a fault of "
    "this program, or nothing could be written; 130 it was stopped: the reports hold what was "
    "measured until then, and unless --no-store was given the same command goes on."
)


def audit(
    paths: Annotated[
        list[str], typer.Argument(metavar="PATH...", help="Files and folders: a card, or several.")
    ],
    out: OutOption = None,
    formats: FormatOption = None,
    workers: Annotated[
        int | None,
        typer.Option(
            "--workers", min=1, metavar="N", help="Processes; default: the cores there are."
        ),
    ] = None,
    cluster: Annotated[
        str | None, typer.Option("--cluster", metavar="ADDRESS", help="A Dask scheduler, tcp://...")
    ] = None,
    settings: SettingsOption = None,
    store: StoreOption = None,
    no_store: NoStoreOption = False,
    again: Annotated[
        bool, typer.Option("--again", help="Measure every file anew, whatever is remembered of it.")
    ] = False,
    at: PlaceOption = None,
    paper: Annotated[
        str | None,
        typer.Option(
            "--paper",
            metavar="KIND",
            help="What you print on: canvas, cotton-rag, matte, gloss, silver, baryta, "
            "best-gloss or best-baryta.",
        ),
    ] = None,
    paper_dmax: Annotated[
        float | None,
        typer.Option(
            "--paper-dmax",
            parser=decimal_number,
            metavar="D",
            help="Optical density of your paper's black, such as 1.65.",
        ),
    ] = None,
    as_json: Annotated[
        bool,
        typer.Option(
            "--json", help="Write the audit to standard output; no reports unless --format asks."
        ),
    ] = False,
    verbose: Annotated[
        bool, typer.Option("--verbose", "-v", help="Tell each file as it is measured.")
    ] = False,
    quiet: QuietOption = False,
    debug: DebugOption = None,
    sheets: Annotated[
        str,
        typer.Option(
            "--sheets", metavar="WHICH", help="A PNG sheet for all frames, for lost ones, or none."
        ),
    ] = "lost",
    pictures: Annotated[
        str | None,
        typer.Option(
            "--pictures",
            metavar="WHICH",
            help="large: files beside the page, to be looked at closely; small: within the page; "
            "or none. Default: large where the page is among the formats.",
        ),
    ] = None,
    replace: Annotated[
        bool,
        typer.Option("--replace", help="Replace another shoot's reports, or another's files."),
    ] = False,
    open_: Annotated[bool, typer.Option("--open", help="Open the page when it is there.")] = False,
) -> None:
    """Audit a whole card: measure, judge, group, pair, and write the reports.

    \b
    auditor audit /media/card --out evening
    auditor audit /media/card-1 /media/card-2 --out evening --at 54.2,3.6
    auditor audit shoots/2026 --out year --format json,csv
    auditor audit /media/card --out evening --paper matte --paper-dmax 1.65
    auditor audit /media/card --json --quiet
    """
    from auditor.commands.settings import own_settings
    from auditor.early import begun_engine
    from auditor.engine.choose import make_engine

    keep_traces_in(debug, paths)
    not_together(store=store, no_store=no_store)
    not_together(cluster=cluster, workers=workers)
    not_together(verbose=verbose, quiet=quiet)
    own = own_settings(settings)
    wanted = chosen_formats(formats or (() if as_json else own.formats or DEFAULT_FORMATS))
    place = place_from_text(at) or own.place
    if open_ and "html" not in wanted:
        raise WrongCall(calls.OPEN_WITHOUT_PAGE)
    engine, remembers = make_engine(workers, cluster, own.settings.measure), not (again or no_store)
    with closing(begun_engine(engine, paths, store=store or own.store, remembers=remembers)):
        # only now: all that follows takes as long to load as a worker to start
        from auditor.audit import run_audit
        from auditor.console.progress import ConsoleListener
        from auditor.console.summary import open_page, print_summary
        from auditor.print.fit import with_paper
        from auditor.request import AuditRequest

        listener = ConsoleListener(quiet=quiet, verbose=verbose)
        request = AuditRequest(
            paths=tuple(paths),
            out=out,
            formats=wanted,
            settings=with_paper(own.settings, paper, paper_dmax),
            workers=workers,
            cluster=cluster,
            store=store or own.store,
            keep_store=not no_store,
            again=again,
            place=place,
            under=own.out,
            sheets=sheets,
            replace=replace,
            pictures=pictures,
        )
        with listener:
            end = run_audit(request, listener, engine)
    print_summary(end, quiet=quiet, aside=as_json)
    if store is not None and end.remembered and not quiet:
        asked = f"auditor history --store {shlex.quote(str(store))}"
        typer.echo(f"Remembered for: {visible(asked)}", err=as_json)
    if as_json:
        from auditor.report.json_report import json_parts

        for part in json_parts(end.audit):  # the text of many frames is never held whole
            typer.echo(part.decode("ascii"), nl=False)
    if open_:
        open_page(end.written, listener)
    # not typer's own exit: there 130 would say that nothing could be kept of a stopped audit
    sys.exit(end.exit_status)
