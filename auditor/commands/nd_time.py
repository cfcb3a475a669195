"""The shutter time behind filters."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from auditor.commands.options import (
    StoreOption,
    decimal_number,
    named_path,
    not_together,
    tell_trouble,
)
from auditor.model.errors import WrongCall
from auditor.model.text import visible
from auditor.words import calls

Numbers = list[float] | None


def f_number(text: str | float) -> float:
    """Take an f-number: 11 or f/11."""
    return decimal_number(str(text).strip().lower().removeprefix("f/"))


def nd_time(
    shutter: Annotated[
        str | None,
        typer.Argument(
            metavar="SHUTTER", help="As metered without a filter: 1/30, 0.5s, 2m; not for --kit."
        ),
    ] = None,
    stops: Annotated[
        Numbers,
        typer.Option(
            "--stops",
            metavar="N",
            parser=decimal_number,
            help="A filter by its stops; repeat to stack.",
        ),
    ] = None,
    density: Annotated[
        Numbers,
        typer.Option(
            "--density", metavar="D", parser=decimal_number, help="A filter by its density (3.0)."
        ),
    ] = None,
    factor: Annotated[
        Numbers,
        typer.Option(
            "--factor", metavar="N", parser=decimal_number, help="A filter by its factor (1000)."
        ),
    ] = None,
    own: Annotated[
        list[str] | None,
        typer.Option(
            "--filter",
            metavar="NAME",
            help="A filter of yours by its name in 'auditor history', or as NAME=STOPS.",
        ),
    ] = None,
    kit: Annotated[
        bool,
        typer.Option("--kit", help="All your filters and their useful stacks, 1/500 to 8 s."),
    ] = False,
    want: Annotated[
        str | None,
        typer.Option(
            "--want", metavar="TIME", help="The time wanted: which filter and f-number give it?"
        ),
    ] = None,
    f: Annotated[
        float | None,
        typer.Option("--f", metavar="N", parser=f_number, help="The meter's f-number, for --want."),
    ] = None,
    iso: Annotated[
        float | None,
        typer.Option(
            "--iso", metavar="N", parser=decimal_number, help="The meter's ISO, likewise."
        ),
    ] = None,
    drift: Annotated[
        float,
        typer.Option(
            "--drift",
            metavar="N",
            parser=decimal_number,
            help="How the light changes, stops a minute; negative: it falls.",
        ),
    ] = 0.0,
    exact: Annotated[
        bool, typer.Option("--exact", help="Take the time as written, not as the dial means it.")
    ] = False,
    card: Annotated[
        Path | None,
        typer.Option(
            "--card",
            parser=named_path,
            metavar="FILE",
            help="Write a card to print: a new .png or .pdf file.",
        ),
    ] = None,
    replace: Annotated[
        bool, typer.Option("--replace", help="The card may take the place of an older file.")
    ] = False,
    store: StoreOption = None,
) -> None:
    """Tell the shutter time behind one or more filters, and a table round it.

    \b
    auditor nd-time 1/30 --stops 10
    auditor nd-time 1/8 --density 3.0 --stops 3 --drift -0.2
    auditor nd-time --kit --filter six=6.2 --filter big=9.8 --card filters.pdf
    auditor nd-time 1/30 --want 60s --f 11 --iso 100
    """
    not_together(kit=kit, want=want)
    not_together(card=card, want=want)
    if want is None and (f is not None or iso is not None):
        raise WrongCall(calls.NOT_WANTED)
    if kit == (shutter is not None):
        raise WrongCall(calls.NO_SHUTTER)
    if card is not None:
        from auditor.report.card_sheet import check_card

        check_card(card, replace=replace)
    filters: dict[str, Any] = {
        "stops": stops or (),
        "densities": density or (),
        "factors": factor or (),
        "filters": own or (),
        "drift_stops_per_min": drift,
    }
    filters["known"] = _known(store, filters, all_of_them=kit or want is not None)
    from auditor.console import nd_times
    from auditor.words import nd_plan

    if want is not None:
        wanted = nd_plan.nd_want(want, shutter or "", f_number=f, iso=iso, exact=exact, **filters)
        typer.echo("\n".join(nd_times.want_lines(wanted)))
        return
    told = (
        nd_plan.nd_kit(**filters) if kit else nd_plan.nd_time(shutter or "", exact=exact, **filters)
    )
    if card is not None:
        from auditor.report.nd_card import write_card

        write_card(told, card, replace=replace)
    typer.echo("\n".join(nd_times.lines_of(told)))
    if card is not None:
        typer.echo(f"Written: {visible(str(card))}")


def _known(store: Path | None, filters: dict[str, Any], *, all_of_them: bool) -> Any:
    """Ask the store for its filters where a name is not given with its stops, or none is."""
    given = [*filters["stops"], *filters["densities"], *filters["factors"], *filters["filters"]]
    named = any("=" not in name for name in filters["filters"])
    if not (named or (all_of_them and not given)):
        return ()
    from auditor.commands.settings import own_settings
    from auditor.past import remembered_filters

    return remembered_filters(store or own_settings().store, tell_trouble)
