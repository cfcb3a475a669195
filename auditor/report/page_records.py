"""Page records: all that a reader sees, already worded and rounded.

Every text here is safe to show (:func:`auditor.model.text.visible`) but not yet escaped for
HTML, Markdown or anything else. Numbers beside the texts serve drawing and sorting only.
Stops are counted below saturation, as positive numbers. Frames are named by their id.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field

from auditor.model.audit import StopHistogram
from auditor.model.codes import FrameStatus
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


@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelStops:
    """What a filter measures in one channel."""

    name: str
    stops: float
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DensityMap:
    """A filter's stops over the upright picture, rows from the top; None where not measured."""

    rows: tuple[tuple[float | None, ...], ...]
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PairSheet:
    """A short frame beside its longer, filtered sibling."""

    short: str
    long: str
    title: str
    sentence: str
    stops: float
    channels: tuple[ChannelStops, ...]
    facts: tuple[Fact, ...]
    reasons: tuple[str, ...]
    best: bool
    density: DensityMap | None
    """Of the best pair only."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BracketStep:
    """One frame of a bracket on the axis of the scene's own light.

    ``offset`` is where this frame saturates, in stops under the least exposed frame
    of the bracket; None where an exposure is not known.
    """

    frame: str
    offset: float | None
    bar: ToneBar
    covered: str
    needed: bool
    job: str = ""
    """What a blend takes from it; empty where nothing, or where that is not known."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BracketSheet:
    """A bracket and how much of the scene it covers."""

    title: str
    sentence: str
    steps: tuple[BracketStep, ...]
    facts: tuple[Fact, ...]
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class GradSheet:
    """A graduated filter from a pair without and with it."""

    without: str
    with_: str
    sentence: str
    edge: float
    """How far from the top its density is half: a share of the height."""
    horizon: tuple[float, float] | None
    """Where the sky ends at the left and right edge, as found in the frame without the filter."""
    profile: tuple[float, ...]
    """Its stops, from the top."""
    facts: tuple[Fact, ...]
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class PanoramaSheet:
    """Frames panned across one view."""

    title: str
    sentence: str
    frames: tuple[str, ...]
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintSheet:
    """Whether a keeper carries a print."""

    sentence: str
    sizes: tuple[Fact, ...]
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Behind:
    """A frame that came after the keeper, and why."""

    frame: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class KeeperSheet:
    """The frame to keep of a set-up."""

    frame: str
    kind: str
    why: tuple[str, ...]
    others: tuple[str, ...]
    """Frames of the same kind that came after it, best first."""
    against: tuple[Behind, ...]
    """Those of them of which it is told why."""
    print: PrintSheet | None


@dataclass(frozen=True, slots=True, kw_only=True)
class NextTimeSheet:
    """Settings for next time, for the set-ups named, with the reasons."""

    setups: str
    first: int
    """Number of the first of these set-ups."""
    text: str
    why: tuple[str, ...]
    bare: str = ""
    """The settings without a filter, and behind each of the page's ``filters`` the time."""
    behind: tuple[str, ...] = ()
    grad: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanSheet:
    """What to do before or on the next evening, a line each."""

    title: str
    lines: tuple[str, ...]
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Horizon:
    """Where the sky ends at the left and right edge of a frame: shares of the height."""

    frame: str
    ends: tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class MovedSheet:
    """Where a frame's picture moved: cells that blurred by themselves, and the camera's shift."""

    frame: str
    text: str
    places: tuple[tuple[bool | None, ...], ...]
    shift: tuple[float, float] | None
    """Right and down, in pixels, where the tripod moved before this frame."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SetupSheet:
    """One composition with all that was found of its frames."""

    number: int
    title: str
    about: str
    short_about: str
    """When, and how many frames."""
    frames: tuple[str, ...]
    shifts: tuple[tuple[float, float] | None, ...] = ()
    """Of each frame against the first, in sensor pixels: right, down."""
    pairs: tuple[PairSheet, ...] = ()
    brackets: tuple[BracketSheet, ...] = ()
    grads: tuple[GradSheet, ...] = ()
    skies: tuple[str, ...] = ()
    horizon: Horizon | None = None
    keepers: tuple[KeeperSheet, ...] = ()
    moved: tuple[MovedSheet, ...] = ()
    next_time: NextTimeSheet | None = None
    notes: tuple[str, ...] = ()

    @property
    def holds(self) -> str:
        """What there is to see, in few words: "pair, bracket of 5"."""
        parts = ["pair"] if any(pair.best for pair in self.pairs) else []
        brackets = Counter(len(bracket.steps) for bracket in self.brackets)
        for steps, count in brackets.items():
            parts.append(f"bracket of {steps}" if count == 1 else f"{count} brackets of {steps}")
        return ", ".join([*parts, "graduated filter"] if self.grads else parts)

    @property
    def tells_something(self) -> bool:
        """Whether there is anything to set side by side, or to choose from."""
        chosen = any(keeper.others for keeper in self.keepers)
        return bool(self.pairs or self.brackets or self.grads or chosen)


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
