"""The audit's own choice as culling marks, from its ``audit.json``."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

from auditor.advise.suggestions import Basis, Suggestion, choose, is_spoilt, is_usable
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
    sound, usable = set(), set()
    for frame in frames:
        found = frame.get("findings")
        listed = found if isinstance(found, list) else []
        codes = [str(one.get("code")) for one in listed if isinstance(one, dict)]
        if is_spoilt(str(frame.get("status")), codes):
            continue
        sound.add(_id(frame))
        room = frame.get("headroom_stops", frame.get("spare_stops"))  # of an audit of schema 1.x
        blown, blocked, headroom = (
            value if isinstance(value, int | float) else None
            for value in (frame.get("blown_fraction"), frame.get("blocked_fraction"), room)
        )
        if is_usable(blown, blocked, headroom):
            usable.add(_id(frame))
    also_at = {_id(frame): texts_of(frame.get("also_at")) for frame in frames}
    choice = choose(_wanted(audit, path), sound, usable, also_at)
    marks = []
    for frame in frames:
        chosen = choice.get(_id(frame))
        told = {
            "frame": _id(frame),
            "file": frame.get("file"),
            "input": frame.get("input", 0),
            "mark": chosen.mark.value if chosen else None,
            "reasons": " ".join(chosen.reasons) if chosen else "",
        }
        marks.append(mark_of(told, f"{path}: a frame"))
    return Marks(
        marks=tuple(marks),
        audit_made_at=text_of(audit, "made_at", f"{path}"),
        inputs=texts_of(audit.get("inputs")),
        by_audit=True,
    )


def _wanted(audit: dict[str, Any], path: Path) -> Iterator[Suggestion]:
    """Yield what keepers and brackets ask for; what a blend takes of a frame comes first."""
    for keeper in entries_of(audit, "keepers", path):
        best = str(keeper.get("frame"))
        yield Suggestion(frame=best, basis=Basis.BEST, reasons=texts_of(keeper.get("why")))
        for frame in texts_of(keeper.get("rank")):
            yield Suggestion(frame=frame, basis=Basis.BEHIND)
    for bracket in entries_of(audit, "brackets", path):
        blend = bracket.get("blend")
        for part in blend if isinstance(blend, list) else ():
            if isinstance(part, dict):
                job = sidecars.FOR_BLEND.format(job=part.get("job") or "needed")
                frame = str(part.get("frame"))
                yield Suggestion(frame=frame, basis=Basis.NEEDED, reasons=(job,))
        for frame in texts_of(bracket.get("needed")):
            yield Suggestion(frame=frame, basis=Basis.NEEDED, reasons=(sidecars.COVERS_RANGE,))
        for frame in (*texts_of(bracket.get("not_needed")), *texts_of(bracket.get("spare"))):
            yield Suggestion(frame=frame, basis=Basis.NOT_NEEDED)


def _id(frame: dict[str, Any]) -> str:
    return str(frame.get("id", frame.get("file")))
