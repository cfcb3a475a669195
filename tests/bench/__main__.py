"""Measure speed and memory, as ratios within one run where that can be; print a table.

``python -m tests.bench`` runs every group of rows and writes reports/bench.md, the history and its
picture. With names of groups, ``python -m tests.bench start page``, only these are run and printed.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Iterator, Sequence

from auditor.files.atomic import write_text
from tests.bench import history, machine
from tests.bench.rows import GROUPS, Bench
from tests.bench.runs import ROOT
from tests.bench.table import Row, page

REPORT = ROOT / "reports" / "bench.md"


def rows_of(names: Sequence[str], bench: Bench) -> Iterator[Row]:
    """Run groups of rows, telling how long each takes."""
    for name in names:
        began = time.perf_counter()
        yield from GROUPS[name](bench)
        print(f"-- {name}: {time.perf_counter() - began:.0f} s", flush=True)


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__)
    parser.add_argument("rows", nargs="*", metavar="ROWS", help=f"of {', '.join(GROUPS)}")
    parser.add_argument("--megapixels", type=float, default=45.0)
    given = parser.parse_args()
    unknown = set(given.rows) - GROUPS.keys()
    if unknown:
        parser.error(f"no such rows: {', '.join(sorted(unknown))}; there are {', '.join(GROUPS)}")
    load, rows = machine.load(), []
    for row in rows_of(given.rows or list(GROUPS), Bench(given.megapixels)):
        rows.append(row)
        print(" | ".join(row.cells()), flush=True)
    if not given.rows:
        write_text(REPORT, page(rows, given.megapixels, load))
        history.draw(history.keep(history.of_rows(rows, load)))
        print(f"Written: {REPORT.relative_to(ROOT)}")
    missed = [row.what for row in rows if row.holds is False]
    print("\n".join(["Not met:", *missed]) if missed else "All that is promised is met.")
    return int(bool(missed))


if __name__ == "__main__":
    raise SystemExit(main())
