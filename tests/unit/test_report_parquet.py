"""Tables as Parquet: typed, whole, and read by the queries that the docs show."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from pathlib import Path

import duckdb
import pytest
from pyarrow import parquet

from auditor.model.audit import Audit
from auditor.report.tables import TABLES, build_parquet, tables
from tests.builders import make_audit
from tests.docs_text import DOCS

QUERIES = re.findall(r"^```sql\n(.*?)^```", (DOCS / "howto-tables.md").read_text(), re.M | re.S)


@pytest.fixture(scope="module")
def audit() -> Audit:
    return make_audit(24)[0]


@pytest.mark.parametrize("hostile", [False, True])
def test_every_table_is_read_back_cell_by_cell(hostile: bool) -> None:
    made = make_audit(24, hostile=hostile)[0]
    files = dict(build_parquet(made))
    assert set(files) == {f"{name}.parquet" for name in TABLES}
    for name, rows in tables(made).items():
        back = parquet.read_table(io.BytesIO(files[f"{name}.parquet"])).to_pylist()
        first = {"made_at": made.made_at, "inputs": "; ".join(made.inputs)}
        assert back == [{**first, **row} for row in rows]


def test_an_audit_of_nothing_has_its_columns(audit: Audit) -> None:
    empty = parquet.read_table(
        io.BytesIO(dict(build_parquet(replace(audit, frames=())))["frames.parquet"])
    )
    whole = parquet.read_table(io.BytesIO(dict(build_parquet(audit))["frames.parquet"]))
    assert set(empty.column_names) <= set(whole.column_names)
    assert all(empty.schema.field(n).type == whole.schema.field(n).type for n in empty.column_names)


@pytest.mark.parametrize("query", QUERIES, ids=range(len(QUERIES)))
def test_the_queries_of_the_docs_answer_over_several_evenings(
    query: str, audit: Audit, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    bare = replace(audit, siblings=tuple(replace(p, cast_stops={}) for p in audit.siblings))
    for name, one in (("first", audit), ("second", bare)):
        (tmp_path / "audits" / name).mkdir(parents=True)
        for file, content in build_parquet(one):
            (tmp_path / "audits" / name / file).write_bytes(content)
    monkeypatch.chdir(tmp_path)
    answer = duckdb.sql(query).fetchall()
    counted = sum(row[1] for row in answer)
    name = "pairs" if "pairs.parquet" in query else "frames"
    rows = tables(audit)[name]
    kept = [r for r in rows if (r["best"] if name == "pairs" else r["status"] == "measured")]
    assert counted == 2 * len(kept) > 0
