"""Measure speed and memory, as ratios within one run where that can be.

``python -m tests.bench`` runs every group of rows but ``archive``, which takes minutes; with names
of groups, ``python -m tests.bench start page``, only these are run. The rows are kept in
reports/bench-history.json, and the table (reports/bench.md) and the picture in the docs are made
anew from all of this release and day.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Iterator, Sequence
from dataclasses import replace

from auditor.files.atomic import write_bytes
from tests.bench import history, machine
from tests.bench.rows import GROUPS, ON_DEMAND, Bench
from tests.bench.runs import ROOT
from tests.bench.table import Row, page

USUAL_MEGAPIXELS = 45.0
REPORT = ROOT / "reports" / "bench.md"


def rows_of(names: Sequence[str], bench: Bench) -> Iterator[Row]:
    """Run groups of rows, telling how long each takes."""
    for name in names:
        began, load = time.perf_counter(), round(machine.load(), 1)
        for row in GROUPS[name](bench):
            yield replace(row, load=load)
        print(f"-- {name}: {time.perf_counter() - began:.0f} s", flush=True)


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__)
    parser.add_argument("rows", nargs="*", metavar="ROWS", help=f"of {', '.join(GROUPS)}")
    parser.add_argument("--megapixels", type=float, default=USUAL_MEGAPIXELS)
    given = parser.parse_args()
    unknown = set(given.rows) - GROUPS.keys()
    if unknown:
        parser.error(f"no such rows: {', '.join(sorted(unknown))}; there are {', '.join(GROUPS)}")
    rows = []
    usual = [name for name in GROUPS if name not in ON_DEMAND]
    for row in rows_of(given.rows or usual, Bench(given.megapixels)):
        rows.append(row)
        print(" | ".join(row.cells()), flush=True)
    if given.megapixels == USUAL_MEGAPIXELS:  # others would not compare
        runs = history.keep(rows)
        history.draw(runs)
        write_bytes(REPORT, page(runs[-1].rows, runs[-1].day, runs[-1].machine).encode())
        print(f"Written: {REPORT.relative_to(ROOT)}")
    missed = [row.what for row in rows if row.holds is False]
    print("\n".join(["Not met:", *missed]) if missed else "All that is promised is met.")
    return int(bool(missed))


if __name__ == "__main__":
    raise SystemExit(main())
