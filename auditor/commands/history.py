"""What the shoots so far tell together."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from auditor.commands.options import (
    PlaceOption,
    StoreOption,
    named_path,
    place_from_text,
    tell_trouble,
)
from auditor.model.errors import WrongCall
from auditor.model.text import visible
from auditor.words import calls


def history(
    out: Annotated[
        Path | None,
        typer.Option(
            "--out",
            "-o",
            parser=named_path,
            metavar="FOLDER",
            help="Folder for history.html and history.png.",
        ),
    ] = None,
    store: StoreOption = None,
    at: PlaceOption = None,
    verify: Annotated[bool, typer.Option("--verify", help="Check the store and say so.")] = False,
    export: Annotated[
        Path | None,
        typer.Option(
            "--export",
            parser=named_path,
            metavar="FILE",
            help="Write everything remembered into one file.",
        ),
    ] = None,
    import_: Annotated[
        Path | None,
        typer.Option(
            "--import", parser=named_path, metavar="FILE", help="Add what another store exported."
        ),
    ] = None,
) -> None:
    """Tell what all shoots so far have taught: habits, filters, bodies, previews.

    \b
    auditor history
    auditor history --out habits
    auditor history --at 54.2,3.6
    auditor history --verify
    auditor history --export backup.auditor
    """
    from auditor import past
    from auditor.commands.settings import own_settings

    own = own_settings()
    store = store or own.store
    others = {"--export": export, "--import": import_, "--verify": verify or None}
    _one_of({"--out": out, **others})
    _one_of({"--at": at, **others})
    if export is not None:
        past.export_store(store, export, tell_trouble)
        typer.echo(f"Written: {visible(str(export))}")
    elif import_ is not None:
        taken = past.import_store(store, import_, tell_trouble)
        typer.echo(f"Taken in: {taken}.")
        if not taken.whole:
            tell_trouble(calls.IMPORT_DAMAGED.format(path=import_))
        raise typer.Exit(0 if taken.whole else 1)
    elif verify:
        problems = past.verify_store(store)
        for problem in problems:
            tell_trouble(problem)
        if not problems:
            typer.echo(f"{visible(str(past.store_place(store)))}: whole.")
        raise typer.Exit(1 if problems else 0)
    else:
        from auditor.report.history_text import history_text

        told = past.remembered_history(store, place_from_text(at) or own.place)
        typer.echo(history_text(told))
        if not told.shoots:
            tell_trouble(calls.NO_SHOOT.format(path=past.store_place(store)))
        for path in past.write_history(told, out) if out is not None else ():
            typer.echo(f"Written: {visible(str(path))}")


def _one_of(given: dict[str, object]) -> None:
    """Refuse a call of which one half would be passed over in silence."""
    named = [option for option, value in given.items() if value is not None]
    if len(named) > 1:
        raise WrongCall(calls.TWO_CALLS.format(options=" and ".join(named)))
