"""The shutter time behind filters."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from auditor.commands.options import StoreOption, decimal_number, tell_trouble
from auditor.model.numbers import time_text
from auditor.model.text import visible

if TYPE_CHECKING:
    from auditor.light.nd_plan import NdPlan
    from auditor.model.history import KnownFilter


def nd_time(
    shutter: Annotated[
        str, typer.Argument(metavar="SHUTTER", help="As metered without a filter: 1/30, 0.5s, 2m.")
    ],
    stops: Annotated[
        list[float] | None,
        typer.Option(
            "--stops",
            metavar="NUMBER",
            parser=decimal_number,
            help="A filter by its stops; repeat to stack.",
        ),
    ] = None,
    density: Annotated[
        list[float] | None,
        typer.Option(
            "--density",
            metavar="NUMBER",
            parser=decimal_number,
            help="A filter by its density (3.0).",
        ),
    ] = None,
    factor: Annotated[
        list[float] | None,
        typer.Option(
            "--factor",
            metavar="NUMBER",
            parser=decimal_number,
            help="A filter by its factor (1000).",
        ),
    ] = None,
    own: Annotated[
        list[str] | None,
        typer.Option("--filter", help="A filter of yours by its name in 'auditor history'."),
    ] = None,
    drift: Annotated[
        float,
        typer.Option(
            "--drift",
            metavar="NUMBER",
            parser=decimal_number,
            help="How the light changes, stops a minute; negative: it falls.",
        ),
    ] = 0.0,
    exact: Annotated[
        bool, typer.Option("--exact", help="Take the time as written, not as the dial means it.")
    ] = False,
    card: Annotated[
        Path | None, typer.Option("--card", help="Write a card to print: a .png or .pdf file.")
    ] = None,
    store: StoreOption = None,
) -> None:
    """Tell the shutter time behind one or more filters, and a table round it.

    \b
    auditor nd-time 1/30 --stops 10
    auditor nd-time 4 --stops 6
    auditor nd-time 1/8 --density 3.0 --stops 3 --drift -0.2
    auditor nd-time 1/15 --factor 1000 --card card.pdf
    """
    from auditor.light.nd_plan import plan_nd_time

    plan = plan_nd_time(
        shutter,
        stops=stops or (),
        densities=density or (),
        factors=factor or (),
        drift_stops_per_min=drift,
        filters=own or (),
        known=_known(store) if own else (),
        exact=exact,
    )
    if card is not None:
        from auditor.report.nd_card import write_card

        write_card(plan, card)
    typer.echo("\n".join(plan_lines(plan)))
    if card is not None:
        typer.echo(f"Written: {visible(str(card))}")


def plan_lines(plan: NdPlan) -> Iterator[str]:
    """Yield the plan as lines for a terminal: the answer, the table, the sum, the cautions."""
    from auditor.words.nd_plan import span_text

    yield plan.answer
    spread = span_text(plan.least_s, plan.most_s)
    if spread:
        yield f"By the spread of the filter's own measurements: {spread}."
    yield ""
    yield f"{'metered':>12}  {'behind the filter':>20}"
    for row in plan.rows:
        dial = f"  {row.setting}" if row.setting.startswith("set") else ""
        here = "  <" if row.asked else ""
        yield f"{row.metered:>12}  {time_text(row.time_s):>20}{dial}{here}"
    for text in (plan.formula, *plan.notes, *(f"Caution: {text}" for text in plan.cautions)):
        yield ""
        yield from textwrap.wrap(text, 88)


def _known(store: Path | None) -> tuple[KnownFilter, ...]:
    from auditor.past import remembered_filters

    return remembered_filters(store, tell_trouble)
