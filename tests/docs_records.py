"""Settings, failures, findings and the fields of ``audit.json``, read from the code."""

from __future__ import annotations

import inspect
import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import fields
from typing import Any

from auditor import api
from auditor.model.errors import FAILURE_KINDS, AuditorError
from auditor.model.findings import FindingKind, Severity
from auditor.model.settings import Settings
from auditor.report.csv_report import csv_parts
from auditor.report.json_report import json_schema
from auditor.sidecar.merge import LABELS, RATINGS
from auditor.store.contents import OF_THE_CONTENT
from auditor.words.kinds import KINDS
from auditor.words.unread import FAILURE_CODES
from tests.builders import make_audit

SEVERITIES = {
    Severity.LOST: "lost: something in the picture cannot be had back",
    Severity.RISK: "risk: near a limit, or a measure not to be trusted",
    Severity.NOTE: "note: worth knowing",
}


def table(head: Iterable[str], rows: Iterable[Iterable[str]]) -> str:
    """A Markdown table; bars inside cells are escaped."""
    lines = [list(head)]
    lines.append(["---"] * len(lines[0]))
    lines += [[cell.replace("|", "\\|").replace("\n", " ") for cell in row] for row in rows]
    return "\n".join(f"| {' | '.join(row)} |" for row in lines)


def settings_tables() -> str:
    """Every setting by table, with its default and what it does."""
    parts = []
    for section in fields(Settings):
        record = getattr(Settings(), section.name)
        doc = parameter_texts(inspect.getdoc(type(record)) or "")
        rows = [
            (f"`{entry.name}`", toml(getattr(record, entry.name)), doc[entry.name])
            for entry in fields(record)
        ]
        about = (inspect.getdoc(type(record)) or "").partition("\n")[0]
        parts.append(f"### `[{section.name}]`\n\n{about}\n\n")
        parts.append(table(("setting", "default", "meaning"), rows) + "\n\n")
    return "".join(parts).rstrip()


def parameter_texts(doc: str) -> dict[str, str]:
    """What a numpydoc docstring says of each parameter; names may share a text."""
    found: dict[str, str] = {}
    _, _, rest = doc.partition("Parameters\n----------\n")
    for entry in re.finditer(r"^(\S[^:\n]*) : [^\n]*\n((?:    [^\n]*\n?)+)", rest, re.MULTILINE):
        text = " ".join(line.strip() for line in entry[2].splitlines())
        found |= {name.strip(): text for name in entry[1].split(",")}
    return found


def toml(value: object) -> str:
    """A value as one writes it in the settings file."""
    if isinstance(value, bool):
        return f"`{str(value).lower()}`"
    if isinstance(value, tuple):
        return f"`[{', '.join(str(part) for part in value)}]`"
    return f"`{value:g}`" if isinstance(value, float) else f"`{value}`"


def failures_table() -> str:
    """Every failure code, and whether the next audit tries the file again."""
    rows = (
        (f"`{code}`", text, FAILURE_KINDS[code].value, again(code))
        for code, text in FAILURE_CODES.items()
    )
    return table(("code", "meaning", "kind", "the next audit"), rows)


def again(code: str) -> str:
    """What the next audit makes of a file that failed."""
    if FAILURE_KINDS[code] in OF_THE_CONTENT:
        return "reads it again, and decodes it where its bytes or the program changed"
    return "tries again"


def errors_table() -> str:
    """Every error that ends a call, with its exit status."""
    kinds = sorted(AuditorError.__subclasses__(), key=lambda kind: kind.code)
    rows = (
        (f"`{kind.code}`", (inspect.getdoc(kind) or "").replace("\n", " "), str(kind.exit_status))
        for kind in kinds
        if kind.__module__.startswith("auditor.")
    )
    return table(("what", "meaning", "exit status"), rows)


def findings_list() -> str:
    """Every kind of finding with all its words."""
    return "\n\n".join(_finding(kind) for kind in KINDS.values())


def _finding(kind: FindingKind) -> str:
    parts = [
        f"### `{kind.code}`",
        f"**{kind.title}** ({SEVERITIES[kind.severity]}). {kind.meaning}",
        f"*Measured:* {kind.measured}",
        f"*Next time:* {kind.next_time}",
    ]
    if kind.caution:
        parts.append(f"*Caution:* {kind.caution}")
    return "\n\n".join(parts)


def ratings_table() -> str:
    """What each mark becomes in a sidecar."""
    rows = (
        (f"`{word}`", RATINGS[word], label) for word, label in zip(RATINGS, LABELS, strict=True)
    )
    return table(("mark", "`xmp:Rating`", "`xmp:Label`"), rows)


def csv_columns() -> str:
    """The columns of ``frames.csv``; those of a plane once, with PLANE in place of its name."""
    head = b"".join(csv_parts(make_audit(6)[0])).decode().partition("\r\n")[0]
    names = [name.strip('"') for name in head.split(",")]
    told = [re.sub(r"^(R|G|G1|G2|B|L)_", "PLANE_", name) for name in names]
    return ", ".join(f"`{name}`" for name in dict.fromkeys(told))


def schema_tables() -> str:
    """Every field of ``audit.json``, record by record, from its JSON Schema."""
    schema = json_schema()
    parts = [_record("audit.json", schema)]
    told = {name: part for name, part in schema["$defs"].items() if "settings" not in name}
    parts += [_record(name, part) for name, part in told.items()]
    return "\n\n".join(parts)


def _record(name: str, part: Mapping[str, Any]) -> str:
    needed = part.get("required", ())
    rows = [
        (f"`{field}`" + ("" if field in needed else " (may be absent)"), kind_of(told), _said(told))
        for field, told in part["properties"].items()
    ]
    title = f"### `{name}`" if name == "audit.json" else f"### Record {name.replace('_', ' ')}"
    about = part.get("description", "")
    return f"{title}\n\n{about}\n\n{table(('field', 'type', 'meaning'), rows)}"


def kind_of(told: Mapping[str, Any]) -> str:
    """The type of a field in words: number, text, list of frame, or the words it may be."""
    if "$ref" in told:
        return _named(told["$ref"])
    if "const" in told:
        return f'"{told["const"]}"'
    if "enum" in told:
        return ", ".join("null" if word is None else f'"{word}"' for word in told["enum"])
    if "anyOf" in told:
        return " or ".join(kind_of(one) for one in told["anyOf"])
    kinds = told["type"] if isinstance(told["type"], list) else [told["type"]]
    return " or ".join(_plain(kind, told) for kind in kinds)


def _plain(kind: str, told: Mapping[str, Any]) -> str:
    words = {"integer": "whole number", "boolean": "true or false", "string": "text"}
    if kind == "array":
        return f"list of {kind_of(told['items'])}"
    if kind == "object" and isinstance(told.get("additionalProperties"), dict):
        return f"name to {kind_of(told['additionalProperties'])}"
    return words.get(kind, kind)


def _named(reference: str) -> str:
    name = reference.rpartition("/")[2]
    place = "settings" if name == "settings" else f"record-{name.replace('_', '-')}"
    return f"[{name.replace('_', ' ')}](#{place})"


def _said(told: Mapping[str, Any]) -> str:
    return " ".join(_sentences(told))


def _sentences(told: Mapping[str, Any]) -> Iterator[str]:
    if told.get("description") or _record_in(told):
        yield str(told.get("description") or _record_in(told)["description"])
    if "minimum" in told and "maximum" in told:
        yield f"From {told['minimum']:g} to {told['maximum']:g}."


def _record_in(told: Mapping[str, Any]) -> Mapping[str, Any]:
    """The record that a field holds, one or a list of them; empty where it holds none."""
    for part in (told, told.get("items", {}), *told.get("anyOf", ())):
        if "$ref" in part:
            record: Mapping[str, Any] = json_schema()["$defs"][part["$ref"].rpartition("/")[2]]
            return record
    return {}


def python_table() -> str:
    """Every public name of the Python interface with its signature and its first sentence."""
    rows = []
    for name in api.__all__:
        found = getattr(api, name)
        call = f"`{_call(found)}`" if inspect.isfunction(found) else "class"
        rows.append((f"`{name}`", call, _first(found)))
    return table(("name", "call", "what"), rows)


def _call(found: Callable[..., Any]) -> str:
    """The signature without the quotes round its annotations."""
    return re.sub(r"(: |-> )'([^']*)'", r"\1\2", str(inspect.signature(found)))


def _first(found: object) -> str:
    return (inspect.getdoc(found) or "").partition("\n\n")[0].replace("\n", " ")
