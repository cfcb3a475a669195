"""What many shoots tell together: records of the history. Counts and spreads stand beside means.

Stops are base-2 logarithms of ratios; shares are fractions of 1; a figure that too few frames
carry is None, and a note says so.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from auditor.model.audit import Marking
from auditor.model.numbers import counted_stops
from auditor.model.text import Glance

UNKNOWN_CAMERA, UNKNOWN_LENS = "unknown camera", "unknown lens"
"""What stands in a table where the file names none."""


@dataclass(frozen=True, slots=True)
class Spread:
    """A mean that never goes without its count and spread.

    Parameters
    ----------
    count : int
        How many values, at least 1.
    mean, median : float
    spread : float or None
        Standard deviation of one value (n - 1 in the divisor); None for a single value.
    least, most : float
    """

    count: int
    mean: float
    median: float
    spread: float | None
    least: float
    most: float

    @property
    def error(self) -> float | None:
        """Standard error of the mean, ``spread / sqrt(count)``; None for a single value."""
        return None if self.spread is None else float(self.spread / self.count**0.5)


@dataclass(frozen=True, slots=True, repr=False)
class KnownFilter(Glance):
    """A filter that recurs over the shoots, by what was measured of it.

    Parameters
    ----------
    name : str
        Made from the figures, always the same for the same figures: "about 10 stops, warm".
    stops_by_channel : dict
        "R", "G", "B": mean of the measured stops.
    spread_stops : float
        Standard deviation of one measured pair about the mean, the largest of the channels;
        0 when there is only one pair.
    cast_stops : dict
        "R", "B": that channel's stops less green's (positive: held back more than green).
    marking : Marking
        The usual marking that lies nearest.
    count : int
        Pairs of frames that the means come from.
    shoots : int
        Shoots that these are from.

    Examples
    --------
    >>> from auditor.api import filters
    >>> [known.name for known in filters("memory.sqlite")]  # doctest: +SKIP
    ['about 10 stops, cool', 'about 6 stops, warm']
    """

    name: str
    stops_by_channel: dict[str, float]
    spread_stops: float
    cast_stops: dict[str, float]
    marking: Marking
    count: int
    shoots: int = 1

    @property
    def stops(self) -> float:
        """Green's stops, or the mean of the channels where there is no green (mono)."""
        if "G" in self.stops_by_channel:
            return self.stops_by_channel["G"]
        return sum(self.stops_by_channel.values()) / len(self.stops_by_channel)

    def glance(self) -> Iterator[tuple[str, str]]:
        """Yield name, stops by channel, marking and how often it was measured."""
        yield "", self.name
        yield "stops", ", ".join(f"{name} {n:.2f}" for name, n in self.stops_by_channel.items())
        yield "marking", self.marking.label or counted_stops(self.marking.stops)
        yield "spread", counted_stops(self.spread_stops, digits=2)
        yield "pairs", f"{self.count} in {self.shoots} shoots"

    @property
    def off_marking_stops(self) -> float:
        """Measured less marked; positive: denser than its marking says."""
        return self.stops - self.marking.stops


@dataclass(frozen=True, slots=True)
class ExposureRow:
    """How the frames of one kind were placed. None in a heading means: all of them.

    Parameters
    ----------
    phase : str or None
        Time against sunrise and sunset, a value of ``auditor.light.sun.PHASES``.
    filtered : bool or None
        Behind a neutral density filter.
    frames : int
        Frames counted; bracketed frames, dark frames and unreadable ones are not.
    spare : Spread or None
        Stops that the frames with no channel lost could still have taken.
    lost : int
        Frames with a channel lost beyond the set limit.
    lost_by_channel : dict
        Channel name to the count of frames in which it was lost.
    """

    frames: int
    spare: Spread | None
    lost: int
    body: str | None = None
    lens: str | None = None
    phase: str | None = None
    filtered: bool | None = None
    lost_by_channel: dict[str, int] | None = None

    @property
    def lost_share(self) -> float:
        """Share of the frames with a channel lost."""
        return self.lost / self.frames if self.frames else 0.0


@dataclass(frozen=True, slots=True)
class PreviewRow:
    """How far one body's preview misleads: stops by which it clips before the sensor does."""

    body: str
    frames: int
    early: dict[str, Spread]
    """"R", "G", "B"; a channel is absent where no frame told it."""
    false_alarms: int
    """Frames whose preview showed lost highlights where the raw data lost none."""
    neutral: Spread | None = None
    """The same for a neutral highlight, as an audit tells it: by the channel that clips least
    early, or another's figure less its greater white balance multiplier. None where no frame
    tells it."""


@dataclass(frozen=True, slots=True)
class HotRow:
    """Hot pixels of one body."""

    body: str
    frames: int
    per_megapixel: Spread
    long_per_megapixel: Spread | None
    """The same over exposures of one second and longer."""
    staying: int | None
    """Pixels hot in at least half of the exposures from five seconds on, in two shoots or more;
    None where the places are not known."""


@dataclass(frozen=True, slots=True)
class SensorRow:
    """Saturation and noise of one channel of one sensor at one ISO.

    ``full_well_e``, ``read_noise_e`` and ``dynamic_range_stops`` follow from the means:
    (saturation - black) / gain, read noise / gain, and saturation over the noise floor.
    """

    body: str
    iso: float
    channel: str
    frames: int
    black_dn: Spread
    saturation_dn: Spread | None
    """Over frames where it was measured, not claimed by the file."""
    read_noise_dn: Spread | None
    gain_dn_per_e: Spread | None
    full_well_e: float | None = None
    read_noise_e: float | None = None
    dynamic_range_stops: float | None = None
    sensor: str = ""
    """Layout, size and depth: a body may have several."""


class HabitCode(StrEnum):
    """What a habit is about; its figures are named beside each."""

    HEADROOM_LEFT = "headroom-left"
    """give_stops; shoots; blocked. ``spread`` over the frames, ``rest`` over all others."""
    CHANNELS_LOST = "channels-lost"
    """of; held (by one stop less); retaken. ``channels``: frames by the channel lost."""
    BOTH_ENDS_LOST = "both-ends-lost"
    """of"""
    PREVIEW_EARLY = "preview-early"
    """give_stops. ``preview``: the body's row."""
    PREVIEW_LATE = "preview-late"
    """``preview``: the body's row."""
    FILTER_OFF_MARKING = "filter-off-marking"
    """``filter``: what was measured of it."""


class FramesOf(StrEnum):
    """By what the frames of a habit are told from the others."""

    ALL = "all"
    PHASE = "phase"
    FILTERED = "filtered"
    BODY = "body"
    LENS = "lens"


@dataclass(frozen=True, slots=True, kw_only=True)
class Habit:
    """One habit that would change the pictures, with its evidence.

    Parameters
    ----------
    weight : float
        Frames concerned times stops at stake: what habits are ranked by.
    frames_of : FramesOf
        Which frames it is a habit of.
    name : str
        Their time of day, body or lens; empty for all and for filtered ones.
    figures : mapping of str to float
        What its sentences are made from; :class:`HabitCode` names them.
    text : str
        What happens and what to do instead, one sentence; empty until words are put to it.
    evidence : str
        Counts, means and spreads behind it.
    caution : str
        The usual caution where the advice touches sun, tides or dark ground; may be empty.
    """

    code: HabitCode
    weight: float
    frames: int
    value_stops: float | None = None
    frames_of: FramesOf = FramesOf.ALL
    name: str = ""
    figures: Mapping[str, float] = field(default_factory=dict)
    channels: Mapping[str, int] = field(default_factory=dict)
    spread: Spread | None = None
    rest: Spread | None = None
    last: float | None = None
    """On the latest evening: median headroom in stops, or share of the frames. None without an
    earlier evening."""
    before: float | None = None
    """The same over the evenings before."""
    preview: PreviewRow | None = None
    filter: KnownFilter | None = None
    text: str = ""
    evidence: str = ""
    caution: str = ""


class HistoryNote(StrEnum):
    """What is worth knowing of a history; each has a count."""

    ON_PURPOSE = "exposed so on purpose"
    AGAIN = "a later audit holds the same frames"
    PHASE_UNKNOWN = "time against the sun not known"
    UNREADABLE = "could not be read"
    TOO_FEW = "too few frames for habits"


@dataclass(frozen=True, slots=True, kw_only=True)
class Evening:
    """One evening, over all its shoots.

    Parameters
    ----------
    day : str
        ISO 8601; the small hours belong to the evening before.
    placed : int
        Frames whose placement counts: neither in a bracket nor dark frames.
    left_stops : float or None
        Headroom of the placed frames that lost no channel, median.
    lost : int
        Placed frames with a channel lost beyond the set limit.
    filter_stops : dict
        Nearest marking in stops to the median of what was measured that evening.
    known_stops : dict
        The same by the name of a filter that recurs over the evenings.
    report : str
        Address of the page of its audit, where that still lies; empty where it does not.
    picture : bytes
        JPEG of the frame that stands for it; empty where none was kept.
    picture_of : str
        Name of that frame's file.
    """

    day: str
    frames: int
    placed: int
    left_stops: float | None
    lost: int
    filter_stops: dict[float, float]
    known_stops: dict[str, float] = field(default_factory=dict)
    report: str = ""
    picture: bytes = field(default=b"", repr=False)
    picture_of: str = ""


@dataclass(frozen=True, slots=True)
class History:
    """All that the shoots in the store tell together.

    Parameters
    ----------
    shoots, frames, unreadable : int
        How many of each.
    first_at, last_at : str or None
        When the first and the last frame were taken, ISO 8601.
    previews : tuple of PreviewRow
        How far each body's preview misleads.
    filters : tuple of KnownFilter
        Filters that recur.
    hot : tuple of HotRow
        Hot pixels by body.
    sensors : tuple of SensorRow
        What was measured of each body at each ISO.
    counts : mapping of HistoryNote to int
        What is worth knowing.
    notes : tuple of str
        The same in words; empty until they are put to it.

    Examples
    --------
    >>> from auditor.api import history
    >>> history("memory.sqlite").frames  # doctest: +SKIP
    412
    """

    shoots: int
    frames: int
    unreadable: int
    first_at: str | None = None
    last_at: str | None = None
    exposure: tuple[ExposureRow, ...] = ()
    """First the row of all frames, then by body, lens, phase, filter, and by all four."""
    previews: tuple[PreviewRow, ...] = ()
    filters: tuple[KnownFilter, ...] = ()
    hot: tuple[HotRow, ...] = ()
    sensors: tuple[SensorRow, ...] = ()
    habits: tuple[Habit, ...] = ()
    """At most three, the weightiest first."""
    counts: Mapping[HistoryNote, int] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
    evenings: tuple[Evening, ...] = ()
    """The latest first."""
