"""Records of set-ups: their pairs, brackets, graduated filters, panoramas and keepers, worded.

The page's script reads their fields by these names (``record_data`` in ``html_data.py``). What
holds for texts, numbers and names of frames stands in :mod:`auditor.report.page_records`.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from auditor.report.frame_records import ToneBar
from auditor.words.values import Fact


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
    """Of each frame against one of them, in sensor pixels: right, down."""
    shift_errors: tuple[float | None, ...] = ()
    """Standard error of each."""
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
