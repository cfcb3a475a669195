"""Shutter times behind filters as lines for a terminal: plan, kit, wanted time."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator

from auditor.light.filters import counting_text
from auditor.light.nd_kit import Kit
from auditor.light.nd_plan import NdPlan
from auditor.light.nd_want import WantPlan
from auditor.light.nominal import LONGEST_DIAL_S, nominal_name
from auditor.model.numbers import time_text
from auditor.model.text import visible
from auditor.words import calls
from auditor.words.cautions import IN_ONE_LINE
from auditor.words.nd_plan import change_text, span_text, strength_text

WIDTH = 88
KIT_COLUMNS = 6


def lines_of(told: NdPlan | Kit) -> Iterator[str]:
    """Yield a plan or a kit."""
    return kit_lines(told) if isinstance(told, Kit) else plan_lines(told)


def plan_lines(plan: NdPlan) -> Iterator[str]:
    """Yield the answer, the table, the sum and the notes."""
    yield from textwrap.wrap(plan.answer, WIDTH)
    spread = span_text(plan.least_s, plan.most_s)
    if spread:
        yield calls.BY_SPREAD.format(spread=spread)
    yield ""
    yield f"{'metered':>12}  {'behind the filter':>20}"
    for row in plan.rows:
        to_do = row.setting if row.dialled else "Bulb" if (row.time_s or 0.0) > 1.0 else ""
        mark = "  <" if row.asked else ""
        yield f"{row.metered:>12}  {time_text(row.time_s):>20}  {to_do}{mark}".rstrip()
    yield from _foot((plan.formula, *plan.notes))


def kit_lines(kit: Kit) -> Iterator[str]:
    """Yield the filters, the table and the notes."""
    for column in kit.columns:
        if column.name:
            yield f"{column.mark}  {visible(column.name)}: {strength_text(column)}"
    rows = [
        ["metered", *(column.mark for column in kit.columns)],
        ["", *(f"{column.stops:.1f} stops" for column in kit.columns)],
    ]
    for told in kit.rows:
        rows.append([told.metered])
        for time_s in told.times_s:
            if time_s is None:
                rows[-1].append("–")
            else:
                dialled = time_s <= LONGEST_DIAL_S
                rows[-1].append(nominal_name(time_s) if dialled else counting_text(time_s))
    for first in range(1, len(rows[0]), KIT_COLUMNS):
        yield ""
        for row in rows:
            cells = (row[0], *row[first : first + KIT_COLUMNS])
            yield "".join(f"{cell:>12}" for cell in cells)
    notes = [calls.DIAL_OR_BULB]
    if kit.left_out:
        notes.append(calls.FILTERS_LEFT_OUT.format(left_out=kit.left_out))
    yield from _foot((*notes, *kit.notes))


def want_lines(plan: WantPlan) -> Iterator[str]:
    """Yield the ways to the wanted time, the best first, and the notes."""
    yield from textwrap.wrap(plan.answer, WIDTH)
    for way in plan.ways[1:]:
        behind = " and ".join(way.filters) or "no filter"
        yield f"  or {visible(behind)}, {change_text(way)}: {way.setting}"
    yield from _foot(plan.notes)


def _foot(notes: Iterable[str]) -> Iterator[str]:
    for text in notes:
        yield ""
        yield from textwrap.wrap(text, WIDTH)
    yield f"\nCaution: {IN_ONE_LINE}"
