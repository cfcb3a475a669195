"""What a finding means."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping
from typing import TYPE_CHECKING, Annotated

import typer

from auditor.model.errors import WrongCall
from auditor.model.text import visible

if TYPE_CHECKING:
    from auditor.model.findings import FindingKind


def explain(
    code: Annotated[
        str | None, typer.Argument(metavar="[CODE]", help="A finding's code; none lists them all.")
    ] = None,
) -> None:
    """Say what a finding means, how it is measured, and what to do next time.

    \b
    auditor explain blown-area
    """
    from auditor.rules import KINDS

    typer.echo(all_kinds(KINDS) if code is None else explanation(code, KINDS))


def explanation(code: str, kinds: Mapping[str, FindingKind]) -> str:
    """Return what a finding means, as text for a terminal.

    Raises
    ------
    WrongCall
        There is no such finding; the nearest codes are named.
    """
    kind = kinds.get(code.strip().lower())
    if kind is None:
        known = ", ".join(sorted(kinds))
        raise WrongCall(f"There is no finding {visible(code)!r}. There are: {known}.")
    parts = [
        ("What it means", kind.meaning),
        ("How it is measured", kind.measured),
        ("Next time", kind.next_time),
        ("Caution", kind.caution),
    ]
    body = "\n\n".join(f"{head}\n{_wrapped(text)}" for head, text in parts if text)
    return f"{kind.title} ({kind.code}, {kind.severity})\n\n{body}"


def all_kinds(kinds: Mapping[str, FindingKind]) -> str:
    """Return every code with its title, one a line."""
    widest = max(len(code) for code in kinds)
    return "\n".join(_line(kind, widest) for kind in kinds.values())


def _line(kind: FindingKind, widest: int) -> str:
    return f"{kind.code:{widest}}  {kind.severity:4}  {kind.title}"


def _wrapped(text: str) -> str:
    return textwrap.fill(text, 88, initial_indent="  ", subsequent_indent="  ")
