"""Culling marks: from the file that the report saves, or from the audit's own verdict."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from auditor.model.errors import WrongCall

MARKS_SCHEMA = "exposure-auditor marks 1"
MARK_WORDS = ("keeper", "spare", "drop")
LARGEST_BYTES = 256 * 1024 * 1024


@dataclass(frozen=True, slots=True)
class Mark:
    """One frame's mark.

    Parameters
    ----------
    frame : str
        Id of the frame in the audit.
    file : str
        Path relative to the input it was found under, "/"-separated (hostile until checked).
    input : int
        Which of the inputs, from 0.
    mark : str or None
        One of :data:`MARK_WORDS`; None leaves rating and label as they are.
    note : str
        Empty leaves the description as it is.
    """

    frame: str
    file: str
    input: int = 0
    mark: str | None = None
    note: str = ""

    @property
    def says_something(self) -> bool:
        """Whether there is anything to write."""
        return self.mark is not None or bool(self.note)


@dataclass(frozen=True, slots=True)
class Marks:
    """All marks of one audit.

    Parameters
    ----------
    by_audit : bool
        True where the audit's own verdict speaks: its notes then never replace words that
        somebody wrote.
    """

    marks: tuple[Mark, ...]
    made_at: str = ""
    audit_made_at: str = ""
    by_audit: bool = False


def read_marks(path: Path) -> Marks:
    """Read the marks that the report saved.

    Raises
    ------
    WrongCall
        The file cannot be read, is not a marks file, or holds a word that is no mark.
    """
    table = _table(path)
    if table.get("schema") != MARKS_SCHEMA:
        raise WrongCall(
            f"{path}: is not a marks file ({MARKS_SCHEMA!r}). Save the marks from the report again."
        )
    return Marks(
        marks=tuple(
            _mark(entry, f"{path}: mark {place}")
            for place, entry in enumerate(_entries(table, "marks", path), 1)
        ),
        made_at=_text(table, "made_at", f"{path}"),
        audit_made_at=_text(table, "audit_made_at", f"{path}"),
    )


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
    audit = _table(path)
    if "schema_version" not in audit:
        raise WrongCall(f"{path}: is not an audit. Give the audit.json of a report.")
    verdicts, notes = _verdicts(audit, path)
    frames = _entries(audit, "frames", path)
    marks = [_mark(_as_mark(frame, verdicts, notes), f"{path}: a frame") for frame in frames]
    return Marks(
        marks=tuple(mark for mark in marks if mark.says_something),
        audit_made_at=_text(audit, "made_at", f"{path}"),
        by_audit=True,
    )


def _verdicts(audit: dict[str, Any], path: Path) -> tuple[dict[str, str], dict[str, str]]:
    """Return frame id to mark, and frame id to the reasons; the better mark wins."""
    verdicts: dict[str, str] = {}
    notes: dict[str, str] = {}
    keepers, brackets = _entries(audit, "keepers", path), _entries(audit, "brackets", path)
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


def _table(path: Path) -> dict[str, Any]:
    try:
        if path.stat().st_size > LARGEST_BYTES:
            raise WrongCall(f"{path}: is too large to be a file of this tool.")
        found = json.loads(path.read_bytes())
    except OSError as error:
        raise WrongCall(f"{path}: cannot be read ({error.strerror}).") from error
    except (ValueError, RecursionError) as error:
        raise WrongCall(f"{path}: is not JSON. Save the marks from the report again.") from error
    if not isinstance(found, dict):
        raise WrongCall(f"{path}: is neither a marks file nor an audit.")
    return found


def _entries(table: dict[str, Any], name: str, path: Path) -> list[dict[str, Any]]:
    entries = table.get(name, [])
    if not isinstance(entries, list) or not all(isinstance(entry, dict) for entry in entries):
        raise WrongCall(f"{path}: {name} must be a list of objects.")
    return entries


def _mark(entry: dict[str, Any], where: str) -> Mark:
    word = entry.get("mark")
    if word is not None and word not in MARK_WORDS:
        raise WrongCall(f"{where}: a mark is one of {', '.join(MARK_WORDS)} or null.")
    number = entry.get("input", 0)
    if not isinstance(number, int) or isinstance(number, bool) or number < 0:
        raise WrongCall(f"{where}: input must be a number from 0.")
    file = _text(entry, "file", where)
    if not file:
        raise WrongCall(f"{where}: names no file.")
    frame = _text(entry, "frame", where) or file
    return Mark(frame, file, number, word, _text(entry, "note", where))


def _text(entry: dict[str, Any], name: str, where: str) -> str:
    value = entry.get(name)
    if value is None:
        return ""
    if not isinstance(value, str):
        raise WrongCall(f"{where}: {name} must be text.")
    return value


def _texts(values: object) -> Iterable[str]:
    return [value for value in values if isinstance(value, str)] if isinstance(values, list) else []
