"""Records as plain values, in the public layout of ``audit.json``.

Field names are the records' own. What differs is listed in :data:`EXTRA` and below: a trailing
underscore goes (``with_``), exposures tell their exposure value, depth of field whether it
reaches infinity, failures their kind. Numbers are rounded to what was measured, never to nothing:
shares and signals to seven digits that count, stops to four decimals.
"""

from __future__ import annotations

import math
import numbers
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from functools import cache
from typing import Any

from auditor.model.audit import Audit, FrameResult
from auditor.model.errors import FrameFailure
from auditor.model.facts import ExposureFacts
from auditor.model.optics import DepthOfField
from auditor.model.text import encodable

SIGNIFICANT_DIGITS = 7
STOPS_DECIMALS = 4
DEGREES_DECIMALS = 6
"""A millionth of a degree is 0.1 m on the ground."""

_BY_UNIT = (
    (("_stops", "_ev", "ev100", "headroom", "stops_at_top"), STOPS_DECIMALS),
    (("_deg",), DEGREES_DECIMALS),
)

EXTRA: Mapping[type, tuple[str, ...]] = {
    ExposureFacts: ("ev100",),
    DepthOfField: ("to_infinity",),
    FrameFailure: ("kind",),
}
"""Properties that are told beside a record's fields."""

_AS_THEY_ARE = frozenset({int, bool, type(None)})

_NAMES: dict[type, tuple[tuple[str, str], ...]] = {}


def audit_to_plain(audit: Audit) -> dict[str, object]:
    """Return the whole audit as dictionaries, lists, texts, numbers, booleans and None.

    Parameters
    ----------
    audit : Audit

    Returns
    -------
    dict
        The layout of ``audit.json``; a number that is not finite becomes None, a lone
        surrogate is written out.

    Examples
    --------
    >>> from auditor.api import audit_to_plain, read_audit
    >>> audit_to_plain(read_audit("evening"))["schema_version"]  # doctest: +SKIP
    '2.0'
    """
    return _record(audit)


def frame_to_plain(frame: FrameResult) -> dict[str, object]:
    """Return one frame in the layout of ``frames[]``."""
    return _record(frame)


def _record(record: Any) -> dict[str, object]:
    return {
        public: to_plain(getattr(record, name), public) for name, public in names_of(type(record))
    }


def public_name(field: str) -> str:
    """Return the name in ``audit.json`` of a record's field: that of ``with_`` is "with"."""
    return field.rstrip("_")


def names_of(kind: type) -> tuple[tuple[str, str], ...]:
    """Return (field, public name) of a kind of record; looked up once a kind."""
    known = _NAMES.get(kind)
    if known is None:
        own = (entry.name for entry in fields(kind))
        known = tuple((name, public_name(name)) for name in (*own, *EXTRA.get(kind, ())))
        _NAMES[kind] = known
    return known


def to_plain(value: Any, name: str) -> object:
    """Return one value of a record, given the public name of its field."""
    kind = type(value)
    if kind in _AS_THEY_ARE:
        return value
    if kind is float:
        return rounded(value, name)
    if kind in _NAMES:
        return _record(value)
    if isinstance(value, str):
        return encodable(str(value))
    if isinstance(value, (tuple, list)):
        counts = set(map(type, value)) == {int}  # most of an audit are counts of histograms
        return list(value) if counts else [to_plain(item, name) for item in value]
    return _rarer(value, name)


def _rarer(value: Any, name: str) -> object:
    if isinstance(value, Mapping):
        return {encodable(str(key)): to_plain(item, name) for key, item in value.items()}
    if is_dataclass(value) and not isinstance(value, type):
        return _record(value)
    if isinstance(value, numbers.Integral):
        return int(value)
    if isinstance(value, numbers.Real):
        return rounded(float(value), name)
    raise TypeError(f"{name} holds a {type(value).__name__}, which no report can tell")


def rounded(number: float, name: str = "") -> float | None:
    """Round by the unit that the name tells; None where the number is not finite."""
    if not math.isfinite(number):
        return None
    decimals = _decimals_of(name)
    if decimals is None:
        return float(f"{number:.{SIGNIFICANT_DIGITS}g}") + 0.0
    return round(number, decimals) + 0.0


@cache
def _decimals_of(name: str) -> int | None:
    """Return to how many decimals what a field holds is told; None for digits that count."""
    return next((decimals for endings, decimals in _BY_UNIT if name.endswith(endings)), None)
