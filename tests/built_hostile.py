"""The same audit with every text from outside turned against its reader."""

from __future__ import annotations

from dataclasses import fields, is_dataclass, replace
from typing import TYPE_CHECKING, Any

from auditor.model.audit import Audit
from auditor.model.findings import Severity

if TYPE_CHECKING:
    from tests.builders import DictMeasurementSource

POISON = (
    "<img src=x onerror=\"window.hostile='img'\">",
    "</script><script>window.hostile='script'</script>",
    "<!--<script>",
    "'\";`${window.hostile='tick'}`{{7*7}}{% raise %}",
    '=HYPERLINK("http://nowhere.invalid/?"&A1)',
    "+1+cmd|' /C calc'!A0",
    "javascript:window.hostile='url'",
    "\u202egnp.\u2066evil\u2069\x00\x07\x1b[31mred\x1b[0m\r\n\t\x7f\x85\u2028\u2029",
    "\udcff\udce4broken bytes",
    "]]>&lt;&amp;&#x202e;\ufeff\u200b\ufffe",
    "$\\frac{1}{0}$ _a_ *b* [l](javascript:alert) | pipe |\n# head\n---",
    "W" * 5000,
    "\u0301" * 400 + "é" + "漢字" * 200,
)
LITERAL = {"status", "verdict", "layout", "kind", "code", "made_at", "captured_at", "started_at",
           "schema_version", "black_source", "saturation_source", "noise_source", "unit",
           "time_source", "name", "channel", "job", "cast", "loss", "at",
           "day"}  # fmt: skip
"""Fields whose words are the program's own."""


def poisoned(
    audit: Audit, measurements: DictMeasurementSource
) -> tuple[Audit, DictMeasurementSource]:
    """Spoil all outside text; ids stay unique and consistent over the records."""
    renamed = {
        frame.id: f"{POISON[i % len(POISON)]}/{i}.dng" for i, frame in enumerate(audit.frames)
    }
    worse: Audit = _spoil(audit, renamed, [0])
    kept = type(measurements)(
        {renamed[key]: recipe for key, recipe in measurements.recipes.items()}
    )
    return worse, kept


def _spoil(value: Any, renamed: dict[str, str], turn: list[int], name: str = "") -> Any:
    if isinstance(value, Severity) or name in LITERAL:
        return value
    if isinstance(value, str):
        return renamed.get(value) or _next(turn)
    if isinstance(value, tuple):
        return tuple(_spoil(item, renamed, turn) for item in value)
    if isinstance(value, dict):
        return {renamed.get(key, key): _spoil(item, renamed, turn) for key, item in value.items()}
    if is_dataclass(value) and not isinstance(value, type):
        return replace(value, **{
            field.name: _spoil(getattr(value, field.name), renamed, turn, field.name)
            for field in fields(value)
        })  # fmt: skip
    return value


def _next(turn: list[int]) -> str:
    turn[0] += 1
    return POISON[turn[0] % len(POISON)]
