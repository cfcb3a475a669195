"""What the shoots so far tell together."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from auditor.commands.options import StoreOption


def history(
    out: Annotated[
        Path | None, typer.Option("--out", "-o", help="Folder for history.html and history.png.")
    ] = None,
    store: StoreOption = None,
    verify: Annotated[bool, typer.Option("--verify", help="Check the store and say so.")] = False,
    export: Annotated[
        Path | None, typer.Option("--export", help="Write everything remembered into one file.")
    ] = None,
    import_: Annotated[
        Path | None, typer.Option("--import", help="Add what another store exported.")
    ] = None,
) -> None:
    """Tell what all shoots so far have taught: habits, filters, bodies, previews.

    \b
    auditor history
    auditor history --out habits
    auditor history --verify
    auditor history --export backup.auditor
    """
    from auditor.past import tell_history

    raise typer.Exit(tell_history(store, out, verify=verify, export=export, import_from=import_))
