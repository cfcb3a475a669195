"""Culling marks, and the file in which the report saves them."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from auditor.model.errors import WrongCall
from auditor.model.plain_file import read_plain
from auditor.words import calls, sidecars

MARKS_SCHEMA = "exposure-auditor marks 2"
MARK_WORDS = ("keep", "second", "drop")
OLDER_SCHEMA = "exposure-auditor marks 1"
OLDER_WORDS = {"keeper": "keep", "spare": "second", "drop": "drop"}
"""A file of the first kind is still read."""

LARGEST_BYTES = 256 * 1024 * 1024

LONGEST_NOTE = 2000
"""Characters; the page takes as many, and so does a caption (IPTC IIM 4.2, dataset 2:120)."""


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
        The photographer's words, for a caption; empty where there are none.
    reasons : str
        The audit's reasons for its choice.
    """

    frame: str
    file: str
    input: int = 0
    mark: str | None = None
    note: str = ""
    reasons: str = ""

    @property
    def says_something(self) -> bool:
        """Whether there is anything to write; if not, what we wrote earlier is taken out."""
        return self.mark is not None or bool(self.note)


@dataclass(frozen=True, slots=True)
class Marks:
    """All marks of one audit.

    Parameters
    ----------
    inputs : tuple of str
        The folders and files that were audited; empty where the file does not tell.
    by_audit : bool
        True where the audit's own choice speaks.
    """

    marks: tuple[Mark, ...]
    made_at: str = ""
    audit_made_at: str = ""
    inputs: tuple[str, ...] = ()
    by_audit: bool = False


def read_marks(path: Path) -> Marks:
    """Read the marks that the report saved.

    Raises
    ------
    WrongCall
        The file cannot be read, is not a marks file, or holds a word that is no mark.
    """
    table = read_table(path)
    schema = table.get("schema")
    if schema not in (MARKS_SCHEMA, OLDER_SCHEMA):
        raise WrongCall(sidecars.NOT_MARKS.format(path=path, schema=MARKS_SCHEMA))
    if "marks" not in table:
        raise WrongCall(sidecars.NO_LIST.format(path=path))
    older = OLDER_WORDS if schema == OLDER_SCHEMA else {}
    return Marks(
        marks=tuple(
            mark_of(entry, f"{path}: mark {place}", older)
            for place, entry in enumerate(entries_of(table, "marks", path), 1)
        ),
        made_at=text_of(table, "made_at", f"{path}"),
        audit_made_at=text_of(table, "audit_made_at", f"{path}"),
        inputs=texts_of(table.get("inputs")),
    )


def read_table(path: Path) -> dict[str, Any]:
    """Read one JSON object; WrongCall where the file holds none."""
    try:
        found = json.loads(read_plain(path, LARGEST_BYTES))
    except OSError as error:
        raise WrongCall(calls.NOT_READ.format(path=path, reason=error.strerror)) from error
    except (ValueError, RecursionError) as error:
        raise WrongCall(sidecars.NOT_JSON.format(path=path)) from error
    if not isinstance(found, dict):
        raise WrongCall(sidecars.NEITHER.format(path=path))
    return found


def entries_of(table: dict[str, Any], name: str, path: Path) -> list[dict[str, Any]]:
    """Return a list of objects, empty where it is absent; WrongCall where it is anything else."""
    entries = table.get(name, [])
    if not isinstance(entries, list) or not all(isinstance(entry, dict) for entry in entries):
        raise WrongCall(sidecars.OBJECTS.format(path=path, name=name))
    return entries


def texts_of(values: object) -> tuple[str, ...]:
    """Return the texts in a list, none where it is no list."""
    return tuple(v for v in values if isinstance(v, str)) if isinstance(values, list) else ()


def mark_of(entry: dict[str, Any], where: str, older: Mapping[str, str] | None = None) -> Mark:
    """Read one mark; WrongCall, with ``where`` in it, when it cannot be one.

    Parameters
    ----------
    older : mapping, optional
        Words of an older kind of file and what they are called now.
    """
    word = entry.get("mark")
    if older and isinstance(word, str):
        word = older.get(word, word)
    if word is not None and word not in MARK_WORDS:
        raise WrongCall(sidecars.NO_MARK.format(path=where, known=", ".join(MARK_WORDS)))
    number = entry.get("input", 0)
    if not isinstance(number, int) or isinstance(number, bool) or number < 0:
        raise WrongCall(sidecars.INPUT_NUMBER.format(path=where))
    file = text_of(entry, "file", where)
    if not file:
        raise WrongCall(sidecars.NO_FILE.format(path=where))
    frame = text_of(entry, "frame", where) or file
    note, reasons = text_of(entry, "note", where), text_of(entry, "reasons", where)
    return Mark(frame, file, number, word, note, reasons)


def text_of(entry: dict[str, Any], name: str, where: str) -> str:
    """Return a text, "" where it is absent or null; WrongCall where it is anything else."""
    value = entry.get(name)
    if value is None:
        return ""
    if not isinstance(value, str):
        raise WrongCall(sidecars.TEXT.format(path=where, name=name))
    return value
