"""The sentences of what each ISO of a body loses."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from auditor.model.advice import IsoFigures
from auditor.model.numbers import counted_stops, stops_text

TOLD_STOPS = 0.1
"""A loss of less is not worth a word."""


def iso_lines(figures: Sequence[IsoFigures]) -> list[str]:
    """Say of each body what its ISOs hold, what they lose, and from where on more is in vain."""
    return [line for body in dict.fromkeys(one.body for one in figures)
            for line in _body([one for one in figures if one.body == body])]  # fmt: skip


def _body(figures: Sequence[IsoFigures]) -> Iterator[str]:
    told = [one for one in figures if one.range_stops is not None or one.read_noise_e is not None]
    for one in told:
        yield f"{one.body}, ISO {one.iso:.0f}: {'; '.join(_holds(one))}."
    vain = next((one for one in told if one.more_in_vain), None)
    if vain is not None:
        yield (
            f"{vain.body}: from ISO {vain.iso:.0f} on more ISO reads no quieter; brightening "
            "afterwards does as much and clips nothing."
        )


def _holds(one: IsoFigures) -> Iterator[str]:
    if one.range_stops is not None:
        yield f"range {stops_text(one.range_stops)} stops"
    if one.full_well_e is not None:
        yield f"full well {one.full_well_e:,.0f} electrons"
    if one.read_noise_e is not None:
        yield f"read noise {one.read_noise_e:.1f} electrons"
    if (one.range_loss_stops or 0.0) >= TOLD_STOPS:
        yield f"{counted_stops(one.range_loss_stops)} less range than its best ISO"
    if (one.full_well_loss_stops or 0.0) >= TOLD_STOPS:
        lost = counted_stops(one.full_well_loss_stops, digits=2)
        yield f"clips {lost} earlier than the full stop below it would"
    if one.gain_step:
        yield "its second gain sets in here"
