"""Records of frames and their channels: all that a reader sees of them, worded and rounded.

What holds for texts, numbers and names of frames stands in :mod:`auditor.report.page_records`.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from auditor.model.audit import StopHistogram
from auditor.report.style import OPEN_STOPS
from auditor.words.values import Fact


@dataclass(frozen=True, slots=True)
class ToneBar:
    """Where tones lie between noise floor and saturation; None where unmeasured.

    Parameters
    ----------
    floor_stops : float or None
        The noise floor.
    dark_stops, bright_stops, median_stops : float or None
        The dark end, the bright end and the median.
    blown, blocked : float or None
        Shares, fractions of 1.
    """

    floor_stops: float | None = None
    dark_stops: float | None = None
    bright_stops: float | None = None
    median_stops: float | None = None
    blown: float | None = None
    blocked: float | None = None

    @property
    def begin_stops(self) -> float | None:
        """Where the slice of the tones begins: at the dark end, else a short way below the bright.

        That is drawn with an open end, and not under the noise floor.
        """
        if self.dark_stops is not None or self.bright_stops is None:
            return self.dark_stops
        short = self.bright_stops + OPEN_STOPS
        return short if self.floor_stops is None else min(self.floor_stops, short)


@dataclass(frozen=True, slots=True)
class FindingLine:
    """One finding on one frame."""

    code: str
    title: str
    severity: str
    severity_text: str
    text: str
    next_time: str = ""
    caution: str = ""


@dataclass(frozen=True, slots=True)
class ChannelSheet:
    """One colour plane of one frame."""

    name: str
    full_name: str
    bar: ToneBar
    histogram: StopHistogram
    facts: tuple[Fact, ...]
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Relatives:
    """The frames that belong to one frame, by id."""

    siblings: tuple[str, ...] = ()
    """The other frame of each pair with and without a filter, the best pair first."""
    bracket: tuple[str, ...] = ()
    filtered: bool = False
    """Whether a filter was before the lens, as measured against another frame."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SuggestionLine:
    """The audit's suggested mark of one frame, with the reason in words."""

    mark: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LossRing:
    """The largest lost patch: what it lost, and its box (left, top, right, bottom)."""

    text: str
    box: tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class FrameSheet:
    """One file of the card.

    Parameters
    ----------
    id, file : str
        As in the audit, untouched: for links and marks, never to be shown.
    name : str
        The file's own name, to be shown; with as much of its path, or with its place's number,
        as tells it from every other frame.
    place : str
        The whole relative path, to be shown.
    clock_key : str
        The camera's clock to the minute, "2031-09-14T18:52"; empty where unknown.
    taken_s : float or None
        For sorting by time.
    """

    id: str
    input: int
    file: str
    name: str
    place: str
    status: str
    verdict: str
    verdict_text: str
    taken_text: str
    clock_key: str
    taken_s: float | None
    camera: str
    lens: str
    exposure_text: str
    time_s: float | None
    ev100: float | None
    bar: ToneBar
    blown_text: str
    blocked_text: str
    headroom_stops: float | None
    spare_text: str
    range_stops: float | None
    range_text: str
    verdict_line: str
    """The verdict with the shares and the spare light that bear on it."""
    facts: tuple[Fact, ...] = ()
    channels: tuple[ChannelSheet, ...] = ()
    findings: tuple[FindingLine, ...] = ()
    setup: int | None = None
    """Number of its set-up as shown, from 1."""
    roles: tuple[str, ...] = ()
    is_keeper: bool = False
    error_text: str = ""
    notes: tuple[str, ...] = ()
    outcome: str = "clean"
    """What became of it: a word of :class:`auditor.advise.outcomes.Outcome`."""
    day_text: str = ""
    relatives: Relatives = Relatives()
    suggestion: SuggestionLine | None = None
    loss: LossRing | None = None
    preview_clips_stops: dict[str, float] = field(default_factory=dict)
    """Stops below saturation at which the camera's preview clips, by colour."""
