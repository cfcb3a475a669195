"""The audit's own choice as culling marks, from its ``audit.json``."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from auditor.advise.suggestions import is_spoilt, is_usable
from auditor.model.errors import WrongCall
from auditor.sidecar.marks import Marks, entries_of, mark_of, read_table, text_of, texts_of
from auditor.words import sidecars


def marks_from_audit(path: Path) -> Marks:
    """Make marks of the audit's own choice, from its ``audit.json``.

    What a bracket's blend needs is "keep", and so is the best frame of each kind in a set-up;
    those ranked behind it are "second". A frame that lost much of its area
    (``MOST_LOST`` of :mod:`auditor.advise.limits`), lies far under (``MOST_UNDER_STOPS``), is
    damaged, or was not measured is suggested for a blend or not at all. The audit never says
    "drop": throwing a picture away is the photographer's word. Frames that it does not choose bear
    no mark, which takes out what an earlier choice of its own wrote.

    Raises
    ------
    WrongCall
        The file cannot be read or is not an audit.
    """
    audit = read_table(path)
    if "schema_version" not in audit:
        raise WrongCall(sidecars.NOT_AN_AUDIT.format(path=path))
    frames = entries_of(audit, "frames", path)
    usable = set()  # measured, and would do as pictures by themselves
    for frame in frames:
        room = frame.get("headroom_stops", frame.get("spare_stops"))  # of an audit of schema 1.x
        blown, blocked, headroom = (
            value if isinstance(value, int | float) else None
            for value in (frame.get("blown_fraction"), frame.get("blocked_fraction"), room)
        )
        if is_usable(blown, blocked, headroom) and not _spoilt(frame):
            usable.add(_id(frame))
    choice = _choice(audit, usable, path)
    marks = []
    for frame in frames:
        # of a picture that lies on two cards one is judged; the choice holds for both
        names = (_id(frame), *texts_of(frame.get("also_at")))
        mark, reasons = next((choice[name] for name in names if name in choice), (None, ""))
        told = {"frame": _id(frame), "file": frame.get("file"), "input": frame.get("input", 0)}
        marks.append(mark_of({**told, "mark": mark, "reasons": reasons}, f"{path}: a frame"))
    return Marks(
        marks=tuple(marks),
        audit_made_at=text_of(audit, "made_at", f"{path}"),
        inputs=texts_of(audit.get("inputs")),
        by_audit=True,
    )


def _choice(audit: dict[str, Any], usable: set[str], path: Path) -> dict[str, tuple[str, str]]:
    """Return frame id to mark and reasons; the better mark wins."""
    choice: dict[str, tuple[str, str]] = {}
    keepers, brackets = entries_of(audit, "keepers", path), entries_of(audit, "brackets", path)
    for keeper in keepers:
        if (frame := str(keeper.get("frame"))) in usable:
            choice[frame] = ("keep", " ".join(texts_of(keeper.get("why"))))
    sound = {_id(f) for f in entries_of(audit, "frames", path) if not _spoilt(f)}
    behind = [frame for keeper in keepers for frame in texts_of(keeper.get("rank"))]
    for bracket in brackets:
        blend = bracket.get("blend")
        parts = [p for p in blend if isinstance(p, dict)] if isinstance(blend, list) else []
        jobs = [
            (str(p.get("frame")), sidecars.FOR_BLEND.format(job=p.get("job") or "needed"))
            for p in parts
        ]
        needed = texts_of(bracket.get("needed"))
        jobs += [(frame, sidecars.COVERS_RANGE) for frame in needed]
        for frame, reason in jobs:
            if frame in sound:
                choice.setdefault(frame, ("keep", reason))
        behind += [*texts_of(bracket.get("not_needed")), *texts_of(bracket.get("spare"))]
    for frame in behind:
        if frame in usable:
            choice.setdefault(frame, ("second", ""))
    return choice


def _spoilt(frame: dict[str, Any]) -> bool:
    found = frame.get("findings")
    codes = [f.get("code") for f in found if isinstance(f, dict)] if isinstance(found, list) else []
    return is_spoilt(str(frame.get("status")), (code for code in codes if isinstance(code, str)))


def _id(frame: dict[str, Any]) -> str:
    return str(frame.get("id", frame.get("file")))
