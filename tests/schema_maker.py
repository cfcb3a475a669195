"""Write ``auditor/report/audit.schema.json`` from the records: ``python -m tests.schema_maker``.

Types and words are those of the fields; what each means is what its docstring says, either a line
under the field or an entry of the record's Parameters. Ranges follow the unit in a name.
"""

from __future__ import annotations

import ast
import inspect
import json
import re
import textwrap
import types
from collections.abc import Iterator, Mapping
from dataclasses import fields, is_dataclass
from enum import Enum
from typing import Any, Union, get_args, get_origin, get_type_hints

from auditor.files.atomic import write_bytes
from auditor.model.audit import SCHEMA_VERSION, Audit, FrameResult
from auditor.report.plain_records import EXTRA, public_name
from tests.docs_text import ROOT

SCHEMA = ROOT / "auditor" / "report" / "audit.schema.json"

ABOUT = (
    "Everything one audit measured and concluded. Shares are fractions of 1; stops are base-2 "
    "logarithms of ratios of signal; DN are raw data numbers, black level included unless the name "
    "says signal or noise; null is unmeasured, never zero."
)

PLAIN = {str: "string", bool: "boolean", int: "integer", float: "number", type(None): "null"}
SHARE: dict[str, float] = {"minimum": 0, "maximum": 1}
RANGES: tuple[tuple[str, dict[str, float]], ...] = (
    (r".*_fraction|share|confidence|.*_one_stop_(less|more)|covered_by_frame", SHARE),
    (r"latitude_deg|.*altitude_deg", {"minimum": -90, "maximum": 90}),
    (r"longitude_deg", {"minimum": -180, "maximum": 180}),
    (r"(nominal_|matched_)?time_s|f_number|iso|step", {"exclusiveMinimum": 0}),
    (r"width|height|bit_depth|pairs", {"minimum": 1}),
    (r"read_noise_dn|gain_dn_per_e|noise_floor_dn|error_stops|spread_stops|shift_error_px|per_megapixel|.*_spread_stops",
     {"minimum": 0}),
)  # fmt: skip
"""Names, as regular expressions, and what the numbers under them lie between."""

CODE = "^[a-z][a-z0-9-]*$"
ENDINGS = "Facts|Figures|Result|Share|Story|Point|Fit|Balance|Pair|Need|Verdict"


def build_schema() -> dict[str, Any]:
    """The JSON Schema (draft 2020-12) of an audit."""
    parts: dict[str, Any] = {}
    top = record(Audit, parts)
    top["properties"]["schema_version"] |= {"const": SCHEMA_VERSION}
    parts[name_of(FrameResult)] |= {
        "if": {"properties": {"status": {"const": "unreadable"}}, "required": ["status"]},
        "then": {"properties": {
            "error": {"$ref": "#/$defs/failure"},
            "verdict": {"const": "unreadable"},
            "channels": {"maxItems": 0},
        }},
        "else": {"properties": {
            "error": {"type": "null"},
            "verdict": {"not": {"const": "unreadable"}},
            "channels": {"minItems": 1},
            "size": {"$ref": "#/$defs/size"},
            "layout": {"type": "string"},
            "blown_fraction": {"type": "number"},
        }},
    }  # fmt: skip
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": f"urn:exposure-auditor:audit:{SCHEMA_VERSION}",
        "title": "audit.json",
        **top,
        "description": ABOUT,
        "$defs": dict(sorted(parts.items())),
    }


def record(kind: type, parts: dict[str, Any]) -> dict[str, Any]:
    """One record: its fields, what each means, and its first sentence."""
    told, hints = texts(kind), get_type_hints(kind, include_extras=True)
    properties = {}
    for entry in fields(kind):
        told_here = typed(hints[entry.name], entry.name, parts)
        properties[public_name(entry.name)] = described(told_here, told.get(entry.name, ""))
    for name in EXTRA.get(kind, ()):
        getter = getattr(kind, name).fget
        told_here = typed(get_type_hints(getter, include_extras=True)["return"], name, parts)
        properties[name] = described(told_here, one_line(inspect.getdoc(getter) or ""))
    return {
        "type": "object",
        "description": about(kind),
        "properties": properties,
        "required": list(properties),
    }


def about(kind: type) -> str:
    """What a record is: its docstring before the first section."""
    return one_line(re.split(r"\n(?:Parameters|Examples)\n", inspect.getdoc(kind) or "")[0])


def described(told: dict[str, Any], text: str) -> dict[str, Any]:
    """A type with what it means; a record by itself says so of its own."""
    return told | {"description": text} if text else told


def typed(hint: Any, name: str, parts: dict[str, Any]) -> dict[str, Any]:
    """One type as JSON Schema; records go to ``parts`` and are referred to."""
    origin, inner = get_origin(hint), get_args(hint)
    told: dict[str, Any]
    if origin in (Union, types.UnionType):
        kinds = [one for one in inner if one is not int or float not in inner]  # a number is both
        told = either([typed(one, name, parts) for one in kinds])
    elif origin in (dict, Mapping):
        told = {"type": "object", "additionalProperties": typed(inner[1], name, parts)}
    elif origin is tuple:
        told = listed(inner, name, parts)
    elif is_dataclass(hint):
        told = referred(hint, parts)  # type: ignore[arg-type]
    elif isinstance(hint, type) and issubclass(hint, Enum):
        told = {"enum": [one.value for one in hint]}
    else:
        told = {"type": PLAIN[hint], **ranged(hint, name)}
        told |= {"pattern": CODE} if name == "code" else {}
    return told


def referred(kind: type, parts: dict[str, Any]) -> dict[str, Any]:
    key = name_of(kind)
    if key not in parts:
        parts[key] = {}  # a record that holds itself finds its name taken
        parts[key] = record(kind, parts)
    return {"$ref": f"#/$defs/{key}"}


def ranged(kind: type, name: str) -> dict[str, float]:
    if kind not in (int, float):
        return {}
    found = next((limits for pattern, limits in RANGES if re.fullmatch(pattern, name)), {})
    return found or ({"minimum": 0} if kind is int else {})


def listed(items: tuple[Any, ...], name: str, parts: dict[str, Any]) -> dict[str, Any]:
    if items[-1] is Ellipsis:
        return {"type": "array", "items": typed(items[0], name, parts)}
    assert len(set(items)) == 1, f"{name}: a fixed list is of one type"
    size = {"minItems": len(items), "maxItems": len(items)}
    return {"type": "array", "items": typed(items[0], name, parts), **size}


def either(several: list[dict[str, Any]]) -> dict[str, Any]:
    """Several types as one: null joins a list of words or a plain type."""
    *others, last = several
    if last != {"type": "null"} or len(others) > 1 or "$ref" in others[0]:
        return {"anyOf": several}
    (one,) = others
    return (
        {"enum": [*one["enum"], None]} if "enum" in one else {**one, "type": [one["type"], "null"]}
    )


def name_of(kind: type) -> str:
    """A record's name in the schema: "ChannelFigures" is "channel"."""
    short = re.sub(f"(?<=[a-z])({ENDINGS})$", "", kind.__name__)
    short = re.sub(r"^(Frame|Stop)(?=[A-Z])", "", short)
    return re.sub(r"(?<=[a-z])(?=[A-Z])", "_", short).lower()


def texts(kind: type) -> dict[str, str]:
    """What each field means: the lines under it, or its entry among the Parameters."""
    return dict(_parameters(inspect.getdoc(kind) or "")) | dict(_under_fields(kind))


def _under_fields(kind: type) -> Iterator[tuple[str, str]]:
    (body,) = ast.parse(textwrap.dedent(inspect.getsource(kind))).body
    assert isinstance(body, ast.ClassDef)
    for entry, after in zip(body.body, body.body[1:], strict=False):
        if not (isinstance(entry, ast.AnnAssign) and isinstance(entry.target, ast.Name)):
            continue
        if isinstance(after, ast.Expr) and isinstance(after.value, ast.Constant):
            yield entry.target.id, one_line(str(after.value.value))


def _parameters(doc: str) -> Iterator[tuple[str, str]]:
    _, _, rest = doc.partition("Parameters\n----------\n")
    for entry in re.finditer(
        r"^(\w[^:\n]*)(?: : [^\n]*)?\n((?:    [^\n]*\n?)+)", rest, re.MULTILINE
    ):
        for name in entry[1].split(","):
            yield name.strip(), one_line(entry[2])


def one_line(text: str) -> str:
    """Text without its line breaks and its marks of code."""
    return re.sub(r":\w+:`~?([^`]*)`", r"\1", " ".join(text.split())).replace("``", "")


def undescribed(schema: dict[str, Any]) -> list[str]:
    """Fields that say nothing of what they mean; one that holds a record says it by that."""
    records = {"audit": schema, **schema["$defs"]}
    return [
        f"{name}.{field}"
        for name, part in records.items()
        for field, told in part["properties"].items()
        if "description" not in told and "$ref" not in json.dumps(told)
    ]


def schema_text() -> str:
    """The schema as it lies in the package."""
    return json.dumps(build_schema(), indent=1, ensure_ascii=False) + "\n"


def main() -> None:
    """Write the schema, if all of it is described."""
    missing = undescribed(build_schema())
    if missing:
        raise SystemExit(f"no description of {', '.join(missing)}")
    write_bytes(SCHEMA, schema_text().encode("utf-8"))


if __name__ == "__main__":
    main()
