"""Blown frames that were seen on the spot and taken again: they cost a moment, no picture."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import takewhile

from auditor.model.audit import FrameResult
from auditor.model.codes import Verdict
from auditor.model.facts import FileFacts

RETAKE_S = 180.0
"""A second try comes within this time."""

LEAST_LESS_STOPS = 1.0 / 3.0
"""And with at least so much less exposure."""


def retaken(frames: Sequence[FrameResult]) -> frozenset[str]:
    """Return the ids of blown frames that a later one of the same view made good.

    That is one of the same body and focal length, within :data:`RETAKE_S`, with less exposure
    and no channel lost.

    Parameters
    ----------
    frames : sequence of FrameResult
        Of one shoot, in any order; frames without a clock are passed over.
    """
    timed = [
        (when, frame)
        for frame in frames
        if (when := FileFacts(captured_at=frame.captured_at).clock_s) is not None
    ]
    timed.sort(key=lambda entry: entry[0])
    return frozenset(
        frame.id
        for place, (when, frame) in enumerate(timed)
        if _is_lost(frame) and any(_makes_good(frame, later) for later in _soon(timed, place, when))
    )


def _soon(
    timed: Sequence[tuple[float, FrameResult]], place: int, when_s: float
) -> Iterator[FrameResult]:
    following = takewhile(lambda entry: entry[0] - when_s <= RETAKE_S, timed[place + 1 :])
    return (frame for _, frame in following)


def _makes_good(lost: FrameResult, later: FrameResult) -> bool:
    before, after = lost.exposure.ev100, later.exposure.ev100
    return (
        not _is_lost(later)
        and later.verdict != Verdict.DARK_FRAME
        and later.camera == lost.camera
        and later.lens.focal_mm == lost.lens.focal_mm
        and before is not None
        and after is not None
        and after - before >= LEAST_LESS_STOPS
    )


def _is_lost(frame: FrameResult) -> bool:
    return frame.verdict in (Verdict.BLOWN, Verdict.BOTH)
