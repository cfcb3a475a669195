"""Lines of the page of answers: what was found of filters, in a line each."""

from __future__ import annotations

from collections.abc import Iterator

from auditor.model.advice import FilterVerdict
from auditor.model.audit import Audit
from auditor.model.numbers import counted_stops, whole_share_text

EXACT_STOPS = 0.05
"""A filter nearer to its marking is what it says."""


def found_lines(audit: Audit) -> Iterator[str]:
    """Say what each filter measured, then each graduated one."""
    yield from map(filter_line, audit.filters)
    for grad in dict.fromkeys(
        (round(grad.stops_at_top, 1), round(grad.edge_at, 2)) for grad in audit.grads
    ):
        stops, edge = grad
        yield (
            f"A graduated filter: {counted_stops(stops)} at the top, its edge "
            f"{whole_share_text(edge)} of the height from the top."
        )


def filter_line(verdict: FilterVerdict) -> str:
    """Say what a filter measures: "10-stop filter: 9.7 stops, 0.3 less than marked; cool."."""
    off = verdict.off_marking_stops
    way = "less" if off < 0 else "more"
    marked = (
        f", {counted_stops(abs(off))} {way} than marked"
        if abs(off) >= EXACT_STOPS
        else ", as marked"
    )
    name = verdict.name[:1].upper() + verdict.name[1:]
    pairs = "1 pair" if verdict.pairs == 1 else f"{verdict.pairs} pairs"
    return f"{name}: {counted_stops(verdict.stops)}{marked}; {verdict.cast} ({pairs})."
