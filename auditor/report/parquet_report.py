"""``frames.parquet`` and its sisters: each table of an audit as one Parquet file."""

from __future__ import annotations

import io
from collections.abc import Iterator
from typing import Any

from auditor.model.audit import Audit
from auditor.model.errors import WrongCall
from auditor.report.tables import TABLES, Row, column_kinds, tables


def check_parquet() -> None:
    """Find out before any work whether the library is there.

    Raises
    ------
    WrongCall
        It is not installed.
    """
    try:
        import pyarrow.parquet  # noqa: F401, PLC0415 - an extra
    except ImportError as error:
        raise WrongCall(
            "--format parquet needs the library pyarrow. Install it with: "
            "pip install 'exposure-auditor[parquet]'"
        ) from error


def build_parquet(audit: Audit) -> Iterator[tuple[str, bytes]]:
    """Write every table of an audit.

    Yields
    ------
    tuple of str and bytes
        Name of the file and what it holds. The audit's moment and the folders it looked under stand
        in the columns ``made_at`` and ``inputs``, so that evenings can be read together.
    """
    check_parquet()
    import pyarrow as pa  # noqa: PLC0415 - as above
    from pyarrow import parquet  # noqa: PLC0415 - as above

    types: dict[type, Any] = {
        str: pa.string(), float: pa.float64(), int: pa.int64(), bool: pa.bool_()
    }  # fmt: skip
    first: Row = {"made_at": audit.made_at, "inputs": "; ".join(audit.inputs)}
    for name, found in tables(audit, tuple(TABLES)).items():
        kinds = {**dict.fromkeys(first, str), **column_kinds(name, found)}
        schema = pa.schema([(column, types[kind]) for column, kind in kinds.items()])
        rows = [{**first, **row} for row in found]
        columns = {key: [row.get(key) for row in rows] for key in kinds}
        sink = io.BytesIO()
        parquet.write_table(pa.table(columns, schema=schema), sink)
        yield f"{name}.parquet", sink.getvalue()
