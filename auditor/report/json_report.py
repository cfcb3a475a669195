"""``audit.json``: every figure, for programs; one record a line, so that audits compare well."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import is_dataclass
from functools import partial
from importlib.resources import files
from typing import Any

from auditor.model.audit import Audit, FrameResult
from auditor.model.outcome import Engine, in_order
from auditor.report.plain_records import frame_to_plain, names_of, to_plain

AT_A_TIME = 40
"""Records that are written as one piece."""

_SCHEMA_FILE = "audit.schema.json"


def json_parts(audit: Audit, engine: Engine | None = None) -> Iterator[bytes]:
    """Yield an audit as JSON, ASCII only, in a stable order, some records at a time.

    Hidden, bidirectional and control characters stand as escapes, so the file is safe to look
    at in a terminal; there is no NaN and no infinity. :func:`json_schema` describes it.

    Parameters
    ----------
    audit : Audit
    engine : Engine, optional
        Writes frames; without one that is done here.
    """
    before = "{\n"
    for name, own in names_of(type(audit)):
        value = getattr(audit, name)
        yield f"{before}{_compact(own)}: ".encode("ascii")
        before = ",\n"
        if isinstance(value, tuple) and value and is_dataclass(value[0]):
            between = b"[\n  "
            some = [
                partial(_lines, value[first : first + AT_A_TIME], own)
                for first in range(0, len(value), AT_A_TIME)
            ]
            for lines in in_order(engine if name == "frames" else None, some):
                yield between + lines
                between = b",\n  "
            yield b"\n ]"
        else:
            yield _member(to_plain(value, own)).encode("ascii")
    yield b"\n}\n"


def _lines(records: Sequence[object], name: str) -> bytes:
    return ",\n  ".join(_compact(to_plain(record, name)) for record in records).encode("ascii")


def build_frame_json(frame: FrameResult) -> bytes:
    """Write one frame alone, laid out as in ``frames[]``, one measure a line."""
    members = [f" {_compact(name)}: {_member(v)}" for name, v in frame_to_plain(frame).items()]
    return ("{\n" + ",\n".join(members) + "\n}\n").encode("ascii")


def json_schema() -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of ``audit.json``, anew each time.

    Returns
    -------
    dict
        It is made from the records, with what each field means.

    Examples
    --------
    >>> from auditor.api import json_schema
    >>> json_schema()["properties"]["schema_version"]["const"]
    '2.0'
    """
    file = files("auditor.report").joinpath(_SCHEMA_FILE)
    schema: dict[str, Any] = json.loads(file.read_text(encoding="utf-8"))
    return schema


def _member(value: object) -> str:
    """Write a list of records one record a line, all else in one line."""
    if isinstance(value, list) and value and isinstance(value[0], dict):
        return "[\n  " + ",\n  ".join(_compact(item) for item in value) + "\n ]"
    return _compact(value)


def _compact(value: object) -> str:
    return json.dumps(value, ensure_ascii=True, allow_nan=False, separators=(", ", ": "))
