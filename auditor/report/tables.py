"""An audit as tables: one row a record, its columns those of ``audit.json``.

A column is the path to a field with "_" between the names: ``exposure.time_s`` is
``exposure_time_s``, the second of a list of fixed length ``_1``. Columns and their types come from
the schema, so that a table has them whatever its audit holds. Lists of texts are joined by "; ";
of records in a list their codes or ids stand there. What has no place in a cell (counts of a
histogram, shifts, profiles) stays in ``audit.json``.
"""

from __future__ import annotations

import io
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

from auditor.model.audit import Audit
from auditor.model.errors import WrongCall
from auditor.model.text import did_you_mean
from auditor.report.json_report import json_schema
from auditor.report.plain_records import audit_to_plain
from auditor.words import calls

Cell = str | float | int | bool | None
Row = dict[str, Cell]
Plain = Mapping[str, Any]
Path = tuple[str | int, ...]

ANY = "*"
"""The last step of a path to a mapping, whose keys the data bring."""

TABLES: Mapping[str, str] = {
    "frames": "frames",
    "channels": "frames.channels",
    "findings": "frames.findings",
    "pairs": "siblings",
    "brackets": "brackets",
    "grads": "grads",
    "keepers": "keepers",
    "light": "light",
    "setups": "setups",
    "skies": "skies",
    "panoramas": "panoramas",
    "prints": "prints",
    "rejected": "rejected",
}
"""Name of each table to its list in ``audit.json``; a list within frames names its frame first."""

TYPES: Mapping[str, type] = {"string": str, "number": float, "integer": int, "boolean": bool}
KEYS = ("code", "id")
"""What stands for a record in a list of them."""


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a table.

    Parameters
    ----------
    path : tuple of str or int
        From a record of ``audit.json`` to the value.
    kind : type
        Of its cells: str, float, int or bool.
    key : str
        What is taken of each record of a list; empty for plain values.
    """

    path: Path
    kind: type
    key: str = ""

    @property
    def name(self) -> str:
        """Its heading."""
        return "_".join(map(str, self.path))

    def cell(self, record: Any) -> Cell:
        """Return its cell of one record; None where there is nothing."""
        for step in self.path:
            if record is None or (isinstance(record, dict) and step not in record):
                return None
            record = record[step]
        if isinstance(record, list):
            return "; ".join(str(one[self.key]) if self.key else one for one in record)
        found: Cell = record
        return found

    def mapping(self, record: Any) -> Mapping[str, object]:
        """Return the mapping that it leads to; an empty one where there is none."""
        for step in self.path:
            record = (record or {}).get(step)
        return record or {}


def rows(audit: Audit, table: str) -> list[Row]:
    """Return one kind of record as rows, each with the same columns.

    Parameters
    ----------
    audit : Audit
    table : str
        "frames", "channels", "findings", "pairs", "brackets", "grads", "keepers", "light",
        "setups", "skies", "panoramas", "prints" or "rejected".

    Returns
    -------
    list of dict
        Column to text, number, boolean or None; ``pandas.DataFrame(rows(audit, "frames"))`` is a
        table. Names and numbers are those of ``audit.json`` and ``frames.csv``.

    Raises
    ------
    WrongCall
        There is no such table.

    Examples
    --------
    >>> from auditor.api import audit_shoot, rows
    >>> audit = audit_shoot("/media/card")               # doctest: +SKIP
    >>> rows(audit, "pairs")[0]["filter_stops"]          # doctest: +SKIP
    6.2
    """
    return tables(audit, (table,))[table]


def tables(audit: Audit, names: Sequence[str] = tuple(TABLES)) -> dict[str, list[Row]]:
    """Return several tables by their names; see :func:`rows`."""
    for name in names:
        if name not in TABLES:
            raise WrongCall(
                calls.NO_TABLE.format(
                    name=name, nearest=did_you_mean(name, tuple(TABLES)), known=", ".join(TABLES)
                )
            )
    plain: Plain = audit_to_plain(audit)
    found: dict[str, list[Row]] = {}
    for name in names:
        outer, _, inner = TABLES[name].partition(".")
        records: list[Plain] = plain[outer]
        if inner:
            records = [{"frame": one["id"], **part} for one in records for part in one[inner]]
        cells = [(one.name, one.cell) for one in columns_of(name, records)]
        found[name] = [{own: cell(record) for own, cell in cells} for record in records]
    return found


def columns_of(table: str, records: Sequence[Plain]) -> list[Column]:
    """Return the columns of a table: those of its schema, a mapping's by the keys in the data."""
    found: list[Column] = []
    for column in _schema_columns(table):
        if column.path[-1] != ANY:
            found.append(column)
            continue
        whole = Column(column.path[:-1], dict)
        keys = (key for record in records for key in whole.mapping(record))
        found += [Column((*whole.path, key), column.kind) for key in dict.fromkeys(keys)]
    return found


def column_names(table: str) -> list[str]:
    """Return the columns that a table always has, whatever its audit holds."""
    return [column.name for column in _schema_columns(table) if column.path[-1] != ANY]


def column_kinds(table: str, found: Sequence[Row]) -> dict[str, type]:
    """Return the columns of a table with the types of their cells: str, float, int or bool."""
    kinds = {column.name: column.kind for column in _schema_columns(table)}
    if not found:
        return {name: kinds[name] for name in column_names(table)}
    # a mapping's columns are named by its data, and so not in the schema
    mappings = {name.removesuffix(ANY): kind for name, kind in kinds.items() if name.endswith(ANY)}
    return {
        name: kinds.get(name)
        or next(kind for start, kind in mappings.items() if name.startswith(start))
        for name in found[0]
    }


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
        raise WrongCall(calls.NO_PYARROW) from error


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


@cache
def _schema_columns(table: str) -> tuple[Column, ...]:
    schema = json_schema()
    outer, _, inner = TABLES[table].partition(".")
    part = _listed(schema["properties"][outer])
    if not inner:
        return tuple(_columns(part, ()))
    return (Column(("frame",), str), *_columns(_listed(part["properties"][inner]), ()))


def _listed(told: Plain) -> Plain:
    return _record(told["items"]["$ref"])


def _record(reference: str) -> Plain:
    part: Plain = json_schema()["$defs"][reference.rpartition("/")[2]]
    return part


def _columns(part: Plain, path: Path) -> Iterator[Column]:
    for name, field in part["properties"].items():
        own = (*path, name)
        for told in field.get("anyOf", (field,)):
            kind = _kind(told)
            if "$ref" in told:
                yield from _columns(_record(told["$ref"]), own)
            elif "enum" in told:
                yield Column(own, str)
            elif kind == "array":
                yield from _of_list(told, own)
            elif kind == "object" and _kind(told["additionalProperties"]) in TYPES:
                yield Column((*own, ANY), TYPES[_kind(told["additionalProperties"])])
            elif kind in TYPES:
                yield Column(own, TYPES[kind])


def _of_list(told: Plain, path: Path) -> Iterator[Column]:
    items = told["items"]
    if "$ref" in items:
        known = _record(items["$ref"])["properties"]
        yield from (Column(path, str, key) for key in KEYS if key in known)
    elif _kind(items) == "string":
        yield Column(path, str)
    elif "maxItems" in told and _kind(items) in TYPES:
        kind = TYPES[_kind(items)]
        yield from (Column((*path, number), kind) for number in range(told["maxItems"]))


def _kind(told: Plain) -> str:
    """Return the type of a part of the schema; "" for what is told by reference or by words."""
    kind = told.get("type", "")
    return str(kind[0]) if isinstance(kind, list) else str(kind)
