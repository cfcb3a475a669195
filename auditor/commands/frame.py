"""One frame in depth."""

from __future__ import annotations

from typing import Annotated

import typer

from auditor.commands.options import (
    DebugOption,
    NoStoreOption,
    OutOption,
    PlaceOption,
    QuietOption,
    SettingsOption,
    StoreOption,
    keep_traces_in,
    not_together,
    place_from_text,
)


def frame(
    file: Annotated[str, typer.Argument(metavar="FILE", help="One raw file.")],
    out: OutOption = None,
    settings: SettingsOption = None,
    store: StoreOption = None,
    no_store: NoStoreOption = False,
    at: PlaceOption = None,
    quiet: QuietOption = False,
    debug: DebugOption = None,
) -> None:
    """Write one frame's whole sheet: the same measures in depth, as PNG and JSON.

    \b
    auditor frame /media/card/DCIM/100/IMG_0042.DNG --out sheets
    auditor frame /media/card/DCIM/100/IMG_0042.DNG --out sheets --no-store

    Where the store remembers its shoot it is judged among its sisters, as the audit judges it;
    --no-store judges it by itself.
    """
    from auditor.commands.settings import own_settings
    from auditor.console.frame import print_frame
    from auditor.past import remembered_store
    from auditor.single import audit_frame

    keep_traces_in(debug, [file])
    not_together(store=store, no_store=no_store)
    own = own_settings(settings)
    end = audit_frame(
        file,
        out,
        own.settings,
        store=None if no_store else store or own.store or remembered_store(),
        place=place_from_text(at) or own.place,
    )
    print_frame(end, quiet=quiet)
    raise typer.Exit(end.exit_status)
