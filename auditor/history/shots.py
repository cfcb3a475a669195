"""Frames of many audits as the history counts them: each once, with what was known about it.

Whether one was taken again with a loss mended is told here too.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from auditor.clipping.limits import SMALL_LOSS
from auditor.clipping.settle import module_text
from auditor.history.limits import LEAST_LESS_STOPS, MADE_GOOD, RETAKE_S
from auditor.light.sun import phase_at
from auditor.model.audit import Audit, FrameResult, SiblingPair
from auditor.model.codes import FrameStatus, Verdict
from auditor.model.facts import FileFacts, Position
from auditor.model.history import UNKNOWN_CAMERA, UNKNOWN_LENS
from auditor.model.settings import JudgeSettings


def sensor_of(frame: FrameResult) -> str:
    """Tell sensors and depths of one body apart: "bayer 6000 × 4000, 14 bit"."""
    size = frame.size
    if size is None or frame.layout is None:
        return ""
    lens = module_text(frame.lens)
    return f"{frame.layout.value} {size.width} × {size.height}, {size.bit_depth} bit{lens}"


@dataclass(frozen=True, slots=True)
class Shot:
    """One measured frame of one shoot.

    Parameters
    ----------
    shoot : int
        Place of its audit, by the time it was made.
    phase : str or None
        Time against sunrise and sunset, where it can be told.
    filtered : bool
        The longer one of a pair.
    bracketed : bool
        One of a bracket: placed high or low on purpose.
    retaken : bool
        Blown, seen, and taken again with less light.
    """

    frame: FrameResult
    shoot: int
    judged: JudgeSettings
    phase: str | None = None
    filtered: bool = False
    bracketed: bool = False
    retaken: bool = False

    @property
    def body(self) -> str:
        """The camera, told apart by its serial number."""
        return self.frame.camera.body or UNKNOWN_CAMERA

    @property
    def lens(self) -> str:
        """The lens's name."""
        return self.frame.lens.model or UNKNOWN_LENS

    @property
    def lost(self) -> bool:
        """Whether a channel was lost beyond the limit set."""
        return self.frame.verdict.lost_highlights

    @property
    def missed(self) -> bool:
        """Whether a channel was lost for good: not taken again at once."""
        return self.lost and not self.retaken

    @property
    def placed(self) -> bool:
        """Whether its exposure was a choice that a habit can be told from."""
        return self.frame.verdict != Verdict.DARK_FRAME and not self.bracketed

    @property
    def least_loss(self) -> float:
        """The least share from which one connected area, or many points, count as lost."""
        return min(self.judged.blown_limit, SMALL_LOSS)

    @property
    def lost_channels(self) -> frozenset[str]:
        """Colours lost in a lost frame, both greens as one: blown by the least that counts.

        Where many small losses or a patch over several channels made the frame lost, it may be
        that none alone reaches that share: then the channel that is blown the most.
        """
        blown = {entry.name[0]: 0.0 for entry in self.frame.channels}
        for entry in self.frame.channels:
            blown[entry.name[0]] = max(blown[entry.name[0]], entry.blown_fraction)
        most = max(blown.values(), default=0.0)
        if not self.lost or not most:
            return frozenset()
        limit = min(self.least_loss, most)
        return frozenset(name for name, share in blown.items() if share >= limit)


@dataclass(frozen=True, slots=True)
class Shoots:
    """Everything counted, and what was left out of the count."""

    shots: tuple[Shot, ...]
    pairs: tuple[tuple[int, SiblingPair], ...]
    """Place of the audit, and the pair; only pairs whose long frame is counted there."""
    unreadable: int
    again: int
    """Frames left out because a later audit holds them again."""


def gather(audits: Iterable[Audit], place: Position | None = None) -> Shoots:
    """Put the frames of all audits together, each frame once: its latest audit counts.

    Parameters
    ----------
    audits : iterable of Audit
    place : Position, optional
        Where frames without position and without known light were taken.
    """
    counted = _counted(audits)
    frames = sum(len(_measured(entry.audit)) for entry in counted)
    shots: list[Shot] = []
    for entry in counted:
        audit, again = entry.audit, retaken(entry.frames)
        phases = {point.frame: point.phase for point in audit.light}
        filtered = {pair.long for pair in audit.siblings}
        bracketed = {frame for bracket in audit.brackets for frame in bracket.frames}
        for frame in entry.frames:
            phase, stood = phases.get(frame.id), frame.position or place
            moment = FileFacts(captured_at=frame.captured_at).moment
            if phase is None and moment is not None and stood is not None:
                phase = phase_at(moment, stood)
            shots.append(
                Shot(
                    frame=frame,
                    shoot=entry.index,
                    judged=audit.settings.judge,
                    phase=phase,
                    filtered=frame.id in filtered,
                    bracketed=frame.id in bracketed,
                    retaken=frame.id in again,
                )
            )
    unreadable = sum(
        frame.status != FrameStatus.MEASURED for entry in counted for frame in entry.audit.frames
    )
    return Shoots(tuple(shots), _pairs(counted), unreadable, frames - len(shots))


def counted_pairs(audits: Iterable[Audit]) -> tuple[tuple[int, SiblingPair], ...]:
    """Return the pairs of all audits, each with the place of its audit, none twice."""
    return _pairs(_counted(audits))


@dataclass(frozen=True, slots=True)
class _Counted:
    """One audit and those of its frames that no later audit holds again."""

    index: int
    audit: Audit
    frames: tuple[FrameResult, ...]


def _counted(audits: Iterable[Audit]) -> list[_Counted]:
    ordered = sorted(audits, key=lambda audit: audit.made_at)
    latest = {
        _identity(frame, index): frame
        for index, audit in enumerate(ordered)
        for frame in _measured(audit)
    }
    return [
        _Counted(
            index,
            audit,
            tuple(frame for frame in _measured(audit) if latest[_identity(frame, index)] is frame),
        )
        for index, audit in enumerate(ordered)
    ]


def _pairs(counted: Iterable[_Counted]) -> tuple[tuple[int, SiblingPair], ...]:
    pairs: list[tuple[int, SiblingPair]] = []
    for entry in counted:
        ids = {frame.id for frame in entry.frames}
        pairs += [(entry.index, pair) for pair in entry.audit.siblings if pair.long in ids]
    return tuple(pairs)


def _measured(audit: Audit) -> list[FrameResult]:
    return [frame for frame in audit.frames if frame.status == FrameStatus.MEASURED]


def _identity(frame: FrameResult, index: int) -> tuple[object, ...]:
    """Tell a frame by body, moment and file name; without a moment it is its audit's own."""
    if frame.captured_at is None:
        return (index, frame.id)
    return (frame.camera, frame.captured_at, frame.file.rpartition("/")[2])


def retaken(frames: Sequence[FrameResult]) -> frozenset[str]:
    """Return the ids of blown frames that a later one of the same view made good.

    That is one of the same body and focal length, within ``RETAKE_S``, with less exposure,
    that lost no area, or no more than ``MADE_GOOD`` of what was lost: the sun may be left.

    Parameters
    ----------
    frames : sequence of FrameResult
        Of one shoot, in any order; frames without a clock are passed over.
    """
    timed = [
        (when, frame)
        for frame in frames
        for when in [FileFacts(captured_at=frame.captured_at, exposure=frame.exposure).start_s]
        if when is not None
    ]
    timed.sort(key=lambda entry: entry[0])
    again: set[str] = set()
    for place, (when, frame) in enumerate(timed):
        if _is_lost(frame):
            end = bisect_right(timed, when + RETAKE_S, place, key=lambda entry: entry[0])
            if any(_makes_good(frame, later) for _, later in timed[place + 1 : end]):
                again.add(frame.id)
    return frozenset(again)


def _makes_good(lost: FrameResult, later: FrameResult) -> bool:
    before, after = lost.exposure.ev100, later.exposure.ev100
    left = later.blown_fraction
    mended = left is not None and left <= MADE_GOOD * (lost.blown_fraction or 0.0)
    return (
        (mended or not _is_lost(later))
        and later.verdict != Verdict.DARK_FRAME
        and later.camera == lost.camera
        and later.lens.focal_mm == lost.lens.focal_mm
        and before is not None
        and after is not None
        and after - before >= LEAST_LESS_STOPS
    )


def _is_lost(frame: FrameResult) -> bool:
    return frame.verdict.lost_highlights
