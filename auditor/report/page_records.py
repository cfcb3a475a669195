"""Page records: all that a reader sees, already worded and rounded.

Every text here is safe to show (:func:`auditor.model.text.visible`) but not yet escaped for
HTML, Markdown or anything else. Numbers beside the texts serve drawing and sorting only.
Stops are counted below saturation, as positive numbers. Frames are named by their id.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from auditor.model.codes import FrameStatus
from auditor.report.frame_records import FrameSheet
from auditor.report.setup_records import NextTimeSheet, PanoramaSheet, SetupSheet
from auditor.words.values import Fact


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanSheet:
    """What to do before or on the next evening, a line each."""

    title: str
    lines: tuple[str, ...]
    note: str = ""


@dataclass(frozen=True, slots=True)
class LessonSheet:
    """One of the things worth acting on."""

    text: str
    evidence: str
    frames: tuple[str, ...]
    caution: str = ""


@dataclass(frozen=True, slots=True)
class LightMoment:
    """The scene's light at one frame."""

    frame: str
    ev100: float
    sun_deg: float | None
    filtered: bool
    text: str


@dataclass(frozen=True, slots=True)
class Tally:
    """How many frames came to one verdict or one outcome."""

    verdict: str
    text: str
    count: int


@dataclass(frozen=True, slots=True)
class LegendEntry:
    """One kind of finding, explained."""

    code: str
    title: str
    severity: str
    severity_text: str
    meaning: str
    measured: str
    next_time: str
    caution: str
    count: int


@dataclass(frozen=True, slots=True)
class SettingLine:
    """One setting, its value, and what it does."""

    name: str
    value: str
    meaning: str


@dataclass(frozen=True, slots=True)
class Page:
    """The whole report. Frames stand in order of time, those without a clock last."""

    title: str
    when: str
    made: str
    audit_made_at: str
    inputs: tuple[str, ...]
    """The paths that were audited, untouched: never to be shown as they are."""
    summary: tuple[str, ...]
    tallies: tuple[Tally, ...]
    frames: tuple[FrameSheet, ...]
    light: tuple[LightMoment, ...]
    sun_lines: tuple[str, ...]
    lessons: tuple[LessonSheet, ...]
    setups: tuple[SetupSheet, ...]
    panoramas: tuple[PanoramaSheet, ...]
    legend: tuple[LegendEntry, ...]
    settings: tuple[SettingLine, ...]
    definitions: tuple[Fact, ...]
    cautions: tuple[str, ...]
    ground_caution: str
    """One line on tides and dark ground, to stand where long exposures are advised."""
    notes: tuple[str, ...]
    floor_stops: float
    """Depth of the stops axis: the deepest noise floor of the shoot, in whole stops."""
    by_id: dict[str, FrameSheet] = field(default_factory=dict)
    outcomes: tuple[Tally, ...] = ()
    """How many frames came to what, in the order in which it is told."""
    losses: tuple[str, ...] = ()
    """The frames with the largest losses, worst first."""
    next_times: tuple[NextTimeSheet, ...] = ()
    """Settings for next time, each once."""
    filters: tuple[str, ...] = ()
    """Those whose times are told on the first screen: the first of this shoot's own."""
    filter_times: str = ""
    """What the times behind filters rest on, where there are any."""
    where: str = ""
    """The place, as the files or the caller gave it."""
    plans: tuple[PlanSheet, ...] = ()

    @property
    def lesson_cautions(self) -> tuple[str, ...]:
        """What must be minded with the advice, each said once."""
        told = [lesson.caution for lesson in self.lessons if lesson.caution]
        return tuple(dict.fromkeys([*told, self.ground_caution]))

    @property
    def unreadable(self) -> tuple[FrameSheet, ...]:
        """The files that could not be read."""
        return tuple(frame for frame in self.frames if frame.status == FrameStatus.UNREADABLE)
