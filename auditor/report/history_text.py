"""The history for a terminal: habits first, then the tables."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from itertools import zip_longest

from auditor.model.history import History
from auditor.report.history_page import history_page
from auditor.report.history_tables import Table
from auditor.words.cautions import IN_ONE_LINE

WIDTH = 96
TABLE_WIDTH = 100
LONGEST_CELL = 40
INDENT = GAP = "  "


def history_text(history: History) -> str:
    """Return the whole history as text; every name from a file is made visible in it."""
    page = history_page(history)
    lines = [page.title, ""]
    for sentence in (*page.summary, page.no_habits):
        lines += _wrapped(sentence)
    for number, habit in enumerate(page.habits, 1):
        lines += ["", *_wrapped(habit.text, first=f"{number}. ", rest="   ")]
        lines += _wrapped(habit.evidence, first="   ", rest="   ")
    if any(habit.caution for habit in page.habits):
        lines += ["", *_wrapped(f"Caution: {IN_ONE_LINE}")]
    for table in page.tables:
        lines += ["", *_table_lines(table)]
    for note in page.notes:
        lines += ["", *_wrapped(note)]
    return "\n".join(lines)


def _wrapped(text: str, first: str = "", rest: str = "") -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=first, subsequent_indent=rest) if text else []


def _table_lines(table: Table) -> Iterator[str]:
    """Yield a table's lines, made narrow enough to stand on one; wide cells go on below."""
    rows = [
        [cell if len(cell) <= LONGEST_CELL else cell[: LONGEST_CELL - 1] + "…" for cell in row]
        for row in (table.columns, *table.rows)
    ]
    columns = list(zip(*rows, strict=True))
    widths = [max(map(len, column)) for column in columns]
    needs = [max(map(len, (*column[0].split(), *column[1:]))) for column in columns]
    room = TABLE_WIDTH - len(INDENT) - len(GAP) * (len(widths) - 1)
    while sum(widths) > room and max(widths) > 1:
        # headings of several words give way first, then the widest column
        spare = [width - need for width, need in zip(widths, needs, strict=True)]
        ranks = spare if max(spare) > 0 else widths
        widths[ranks.index(max(ranks))] -= 1
    yield table.title
    for row in rows:
        cells = [textwrap.wrap(cell, width) for cell, width in zip(row, widths, strict=True)]
        for parts in zip_longest(*cells, fillvalue=""):
            first, *others = zip(parts, widths, strict=True)
            line = [first[0].ljust(first[1]), *(part.rjust(width) for part, width in others)]
            yield INDENT + GAP.join(line).rstrip()
