"""What became of each frame, in one word: so that a page need not count a loss twice.

A blown tone is not always a loss. The frames of a bracket are blown and blocked on purpose, for
another frame of it holds what this one does not; the sun itself and glitter clip in every frame.
"""

from __future__ import annotations

from collections.abc import Collection
from enum import StrEnum

from auditor.model.audit import Audit, FrameResult
from auditor.model.codes import FrameStatus, Verdict
from auditor.model.findings import Severity


class Outcome(StrEnum):
    """What became of a frame, in the order in which it is told."""

    LOST = "lost"
    MAY_BE_CLIPPED = "may-be-clipped"
    BRACKETED = "bracketed"
    POINTS = "points"
    CLEAN = "clean"
    DARK = "dark"
    UNREADABLE = "unreadable"


def outcomes(audit: Audit) -> dict[str, Outcome]:
    """Tell every frame's outcome by its id."""
    bracketed = {frame for bracket in audit.brackets for frame in bracket.frames}
    return {frame.id: outcome_of(frame, bracketed) for frame in audit.frames}


def outcome_of(frame: FrameResult, bracketed: Collection[str]) -> Outcome:
    """Tell one frame's outcome; ``bracketed`` are the ids of the frames in brackets."""
    if frame.status != FrameStatus.MEASURED:
        return Outcome.UNREADABLE
    if frame.verdict == Verdict.DARK_FRAME:
        return Outcome.DARK
    lost = {found.code for found in frame.findings if found.severity is Severity.LOST}
    if not lost and frame.verdict == Verdict.MAY_BE_CLIPPED:
        return Outcome.MAY_BE_CLIPPED
    if not lost:
        return Outcome.POINTS if frame.blown_fraction else Outcome.CLEAN
    if lost <= {"blown-area", "blocked-area"} and frame.id in bracketed:
        return Outcome.BRACKETED
    return Outcome.LOST


def lost_fraction(frame: FrameResult) -> float:
    """Return the share of a frame that is blown or blocked up."""
    return (frame.blown_fraction or 0.0) + (frame.blocked_fraction or 0.0)


def largest_losses(audit: Audit, most: int = 3) -> tuple[str, ...]:
    """Return the ids of the lost frames that lost most; one a composition while there are others.

    Parameters
    ----------
    most : int
        No more than so many.
    """
    told = outcomes(audit)
    lost = sorted(
        (frame for frame in audit.frames if told[frame.id] is Outcome.LOST),
        key=lambda frame: (-lost_fraction(frame), frame.id),
    )
    setup_of = {frame: setup.id for setup in audit.setups for frame in setup.frames}
    firsts: dict[str, str] = {}
    for frame in lost:
        firsts.setdefault(setup_of.get(frame.id, frame.id), frame.id)
    others = [frame.id for frame in lost if frame.id not in firsts.values()]
    return (*firsts.values(), *others)[:most]
