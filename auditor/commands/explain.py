"""What a finding means."""

from __future__ import annotations

from typing import Annotated

import typer


def explain(
    code: Annotated[
        str | None, typer.Argument(metavar="[CODE]", help="A finding's code; none lists them all.")
    ] = None,
) -> None:
    """Say what a finding means, how it is measured, and what to do next time.

    \b
    auditor explain blown-area
    """
    from auditor.console import explanation, explanations

    typer.echo(explanations() if code is None else explanation(code))
