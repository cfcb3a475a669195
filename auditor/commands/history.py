"""What the shoots so far tell together."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

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

if TYPE_CHECKING:
    from auditor.model.facts import Position


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
    from auditor.commands.own import own_settings

    own = own_settings()
    store = store or own.store
    others = {"--export": export, "--import": import_, "--verify": verify or None}
    _one_of({"--out": out, **others})
    _one_of({"--at": at, **others})
    if export is not None:
        past.export_store(store, export, tell_trouble)
        typer.echo(f"Written: {visible(str(export))}")
    elif import_ is not None:
        raise typer.Exit(_take_in(store, import_))
    elif verify:
        raise typer.Exit(_told(past.verify_store(store), str(past.store_place(store))))
    else:
        _tell(store, out, place_from_text(at) or own.place)


def _one_of(given: dict[str, object]) -> None:
    """Refuse a call of which one half would be passed over in silence."""
    named = [option for option, value in given.items() if value is not None]
    if len(named) > 1:
        raise WrongCall(f"{' and '.join(named)} do not go together: make two calls of it.")


def _take_in(store: Path | None, source: Path) -> int:
    from auditor import past

    taken = past.import_store(store, source, tell_trouble)
    typer.echo(f"Taken in: {taken}.")
    if taken.whole:
        return 0
    tell_trouble(
        f"{source}: is damaged, and not all that it held could be taken in. Import another copy, "
        "or audit the cards again: what is missing is then measured anew."
    )
    return 1


def _told(problems: list[str], place: str) -> int:
    for problem in problems:
        tell_trouble(problem)
    if not problems:
        typer.echo(f"{visible(place)}: whole.")
    return 1 if problems else 0


def _tell(store: Path | None, out: Path | None, place: Position | None) -> None:
    from auditor import past
    from auditor.report.history_text import history_text

    history = past.remembered_history(store, place)
    typer.echo(history_text(history))
    if not history.shoots:
        tell_trouble(
            f"{past.store_place(store)}: holds no shoot. An audit remembers in this file unless "
            "it is given another with --store, as the demo is: name that one with --store."
        )
    for path in past.write_history(history, out) if out is not None else ():
        typer.echo(f"Written: {visible(str(path))}")
