"""``audit.json`` read back: of this schema, and of 1.x by the names that have changed since."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import msgspec

from auditor.model.audit import SCHEMA_VERSION, Audit
from auditor.model.errors import BadSettings, WrongCall
from auditor.model.plain_file import read_plain
from auditor.words import calls

LARGEST_BYTES = 1 << 31

Plain = dict[str, Any]

RENAMED: Mapping[str, Mapping[str, str]] = {
    "": {"runs": "panoramas"},
    "frames": {"spare_stops": "headroom_stops"},
    "brackets": {"spare": "not_needed"},
    "preview": {"cries_early_stops": "early_by_channel_stops"},
    "judge": {"spare_limit_stops": "headroom_limit_stops"},
}
"""Names of 1.x by where they stood; told with the schema's changes in the reference."""

CODES = {
    "spare-light": "headroom-left",
    "bracket-spare": "bracket-longer",
    "run-uneven": "panorama-uneven",
    "sky-over-ground": "sky-brighter",
    "light-moved": "light-changed",
}
"""Codes of findings that 1.x had under another name."""


def read_audit(path: str | Path) -> Audit:
    """Read an ``audit.json`` back.

    Parameters
    ----------
    path : path
        An ``audit.json``, of schema 2.x or 1.x, or a folder of reports that holds one.

    Returns
    -------
    Audit
        As it was written: numbers as they are rounded there. What a schema of 1.x did not tell is
        empty or None.

    Raises
    ------
    WrongCall
        It cannot be read, is no such file, or is of a newer schema.

    Examples
    --------
    >>> from auditor.api import read_audit
    >>> audit = read_audit("evening")                    # doctest: +SKIP
    >>> sum(frame.verdict == Verdict.BLOWN for frame in audit.frames)  # doctest: +SKIP
    7
    """
    path = Path(path)
    path = path / "audit.json" if path.is_dir() else path
    try:
        plain = json.loads(read_plain(path, LARGEST_BYTES))
    except OSError as error:
        raise WrongCall(calls.NOT_READ.format(path=path, reason=error.strerror)) from error
    except (ValueError, RecursionError) as error:
        raise WrongCall(calls.NO_AUDIT_JSON.format(path=path, reason=error)) from error
    version = plain.get("schema_version") if isinstance(plain, dict) else None
    major = version.partition(".")[0] if isinstance(version, str) else ""
    if major not in ("1", "2"):
        newer = major.isdecimal() and int(major) > 2
        raise WrongCall((calls.NEWER_AUDIT if newer else calls.NOT_AUDIT_JSON).format(path=path))
    try:
        if major == "1":
            _renew(plain)
        for grad in plain["grads"]:
            grad["with_"] = grad.pop("with")  # the record's own name: "with" is a word of Python
        for frame in plain["frames"]:
            depth = (frame.get("optics") or {}).get("depth")
            if depth and depth["to_infinity"]:
                depth["far_m"] = math.inf  # for which JSON has no number
        return msgspec.convert(plain, Audit)
    except (msgspec.MsgspecError, AttributeError, KeyError, TypeError, BadSettings) as error:
        raise WrongCall(calls.NOT_AS_AUDIT.format(path=path, reason=error)) from error


def _renew(plain: Plain) -> None:
    """Lead the names of 1.x to those of today, in place."""
    _rename(plain, "")
    plain["schema_version"] = SCHEMA_VERSION
    _rename(plain["settings"]["judge"], "judge")
    for bracket in plain["brackets"]:
        _rename(bracket, "brackets")
    for frame in plain["frames"]:
        _rename(frame, "frames")
        _rename(frame.get("preview") or {}, "preview")
        for finding in frame["findings"]:
            finding["code"] = CODES.get(finding["code"], finding["code"])


def _rename(record: Plain, place: str) -> None:
    for old, new in RENAMED[place].items():
        if old in record:
            record[new] = record.pop(old)
