"""One frame in depth."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from auditor.commands.options import (
    DebugOption,
    OutOption,
    QuietOption,
    SettingsOption,
    keep_traces_in,
)


def frame(
    file: Annotated[str, typer.Argument(metavar="FILE", help="One raw file.")],
    out: OutOption = Path("audit"),
    settings: SettingsOption = None,
    quiet: QuietOption = False,
    debug: DebugOption = None,
) -> None:
    """Write one frame's whole sheet: the same measures in depth, as PNG and JSON.

    \b
    auditor frame /media/card/DCIM/100/IMG_0042.DNG --out sheets
    """
    from auditor.commands.own import own_settings
    from auditor.console.frame import print_frame
    from auditor.single import audit_frame

    keep_traces_in(debug, [file])
    end = audit_frame(file, out, own_settings(settings).settings)
    print_frame(end, quiet=quiet)
    raise typer.Exit(end.exit_status)
