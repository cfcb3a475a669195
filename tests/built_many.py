"""The invented evening over and over with all its groups: many frames of several days, cheaply."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, is_dataclass, replace
from datetime import datetime, timedelta
from functools import lru_cache
from typing import Any, TypeVar

from auditor.model.audit import Audit, FrameResult
from auditor.model.measurement import FrameMeasurement
from tests.builders import DictMeasurementSource, make_audit

EVENING = 24
APART = timedelta(minutes=95)
GROUPS = (
    "setups", "siblings", "brackets", "grads", "skies", "panoramas", "keepers", "light", "prints",
)  # fmt: skip
Record = TypeVar("Record")


class ManyMeasurementSource:
    """The source for :func:`many`: each evening's frames have the first one's pixels."""

    def __init__(self, measurements: DictMeasurementSource) -> None:
        self.measurements = measurements

    @lru_cache(maxsize=EVENING)  # noqa: B019  (the source lives as long as its test)
    def _base(self, frame_id: str) -> FrameMeasurement:
        return self.measurements.measurement(frame_id)

    def measurement(self, frame_id: str) -> FrameMeasurement:
        return self._base(frame_id.partition("/")[2])


def many(frames: int) -> tuple[Audit, ManyMeasurementSource]:
    """Build an audit of at least so many frames, evening after evening, two hours apart."""
    audit, measurements = make_audit(EVENING)
    turns = [_turned(audit, turn) for turn in range(-(-frames // EVENING))]
    groups: dict[str, Any] = {
        name: tuple(r for part in turns for r in getattr(part, name)) for name in GROUPS
    }
    every = tuple(frame for part in turns for frame in part.frames)[:frames]
    return _only(replace(audit, frames=every, **groups)), ManyMeasurementSource(measurements)


def _turned(audit: Audit, turn: int) -> Audit:
    names = {frame.id: f"{turn}/{frame.id}" for frame in audit.frames}
    names |= {setup.id: f"{turn}-{setup.id}" for setup in audit.setups}
    return renamed(audit, names, turn)


def renamed(audit: Audit, names: Mapping[str, str], turn: int = 0) -> Audit:
    """Give frames and set-ups other ids, and move their moments on by whole evenings."""
    moved: dict[str, Any] = {
        name: tuple(_renamed(record, names, turn) for record in getattr(audit, name))
        for name in ("frames", *GROUPS)
    }
    frames = tuple(replace(frame, file=frame.id) for frame in moved.pop("frames"))
    return replace(audit, frames=frames, **moved)


def _renamed(value: Any, names: Mapping[str, str], turn: int) -> Any:
    """Rename every id in a record, and move its moments on."""
    if isinstance(value, str):
        return names.get(value, value)
    if isinstance(value, tuple):
        return tuple(_renamed(part, names, turn) for part in value)
    if isinstance(value, dict):
        return {names.get(key, key): part for key, part in value.items()}
    if not is_dataclass(value) or isinstance(value, type):
        return value
    known = {entry.name for entry in fields(value)}
    told: dict[str, Any] = {
        name: _renamed(getattr(value, name), names, turn)
        for name in known & {
            "id", "frame", "frames", "setup", "short", "long", "without", "with_", "needed",
            "not_needed", "rank", "covered_by_frame",
        }
    }  # fmt: skip
    for name in known & {"captured_at", "started_at"}:
        moment = getattr(value, name)
        told[name] = moment and _later(moment, turn)
    return replace(value, **told)


def _later(moment: str, turn: int) -> str:
    return (datetime.fromisoformat(moment) + turn * APART).isoformat(timespec="milliseconds")


def _only(audit: Audit) -> Audit:
    """Leave out the groups that hold a frame beyond the last."""
    ids = {frame.id for frame in audit.frames}
    every = {f"{t}/{f.id.partition('/')[2]}" for t in range(200) for f in audit.frames[:EVENING]}
    beyond = every - ids

    def whole(record: Any) -> bool:
        return beyond.isdisjoint(_ids_of(record))

    kept: dict[str, Any] = {
        name: tuple(r for r in getattr(audit, name) if whole(r)) for name in GROUPS
    }
    return replace(audit, lessons=(), **kept)


def _ids_of(record: Any) -> set[str]:
    found: set[str] = set()
    for entry in fields(record):
        value = getattr(record, entry.name)
        found |= {value} if isinstance(value, str) else set()
        found |= (
            {part for part in value if isinstance(part, str)} if isinstance(value, tuple) else set()
        )
    return found


def frame_named(audit: Audit, end: str) -> FrameResult:
    """The first frame whose file ends so."""
    return next(frame for frame in audit.frames if frame.file.endswith(end))
