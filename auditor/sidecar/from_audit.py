"""The audit's own choice as culling marks, from its ``audit.json``."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Any

from auditor.model.errors import WrongCall
from auditor.sidecar.marks import Marks, entries_of, mark_of, read_table, text_of


def marks_from_audit(path: Path) -> Marks:
    """Make marks of the audit's own verdict, from its ``audit.json``.

    The keeper of each set-up and the frames that a bracket needs become "keeper", the frames
    ranked behind a keeper and those a bracket can spare become "spare". The audit never says
    "drop": throwing a picture away is the photographer's word. Frames it has no opinion of
    stay unmarked.

    Raises
    ------
    WrongCall
        The file cannot be read or is not an audit.
    """
    audit = read_table(path)
    if "schema_version" not in audit:
        raise WrongCall(f"{path}: is not an audit. Give the audit.json of a report.")
    verdicts, notes = _verdicts(audit, path)
    frames = entries_of(audit, "frames", path)
    marks = [mark_of(_as_mark(frame, verdicts, notes), f"{path}: a frame") for frame in frames]
    return Marks(
        marks=tuple(mark for mark in marks if mark.says_something),
        audit_made_at=text_of(audit, "made_at", f"{path}"),
        by_audit=True,
    )


def _verdicts(audit: dict[str, Any], path: Path) -> tuple[dict[str, str], dict[str, str]]:
    """Return frame id to mark, and frame id to the reasons; the better mark wins."""
    verdicts: dict[str, str] = {}
    notes: dict[str, str] = {}
    keepers, brackets = entries_of(audit, "keepers", path), entries_of(audit, "brackets", path)
    for keeper in keepers:
        verdicts[str(keeper.get("frame"))] = "keeper"
        notes[str(keeper.get("frame"))] = "; ".join(_texts(keeper.get("why")))
    for bracket in brackets:
        for frame in _texts(bracket.get("needed")):
            verdicts.setdefault(frame, "keeper")
            notes.setdefault(frame, "needed to cover the range of its bracket")
    for frame in (
        *(frame for keeper in keepers for frame in _texts(keeper.get("rank"))),
        *(frame for bracket in brackets for frame in _texts(bracket.get("spare"))),
    ):
        verdicts.setdefault(frame, "spare")
    return verdicts, notes


def _as_mark(
    frame: dict[str, Any], verdicts: dict[str, str], notes: dict[str, str]
) -> dict[str, Any]:
    frame_id = frame.get("id", frame.get("file"))
    return {
        "frame": frame_id,
        "file": frame.get("file"),
        "input": frame.get("input", 0),
        "mark": verdicts.get(str(frame_id)),
        "note": notes.get(str(frame_id), ""),
    }


def _texts(values: object) -> Iterable[str]:
    return [value for value in values if isinstance(value, str)] if isinstance(values, list) else []
