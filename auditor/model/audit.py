"""The audit: what every reporter is handed. Names and meanings are the public face (README).

Shares are fractions of 1. Places in the picture are fractions of the upright picture,
x from the left and y from the top. An unmeasured value is None, and a note says why.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field

from auditor.model.advice import (
    BlendFrame,
    DarkFrameNeed,
    FilterVerdict,
    IsoFigures,
    LightForecast,
    NextTime,
    PairMatch,
)
from auditor.model.codes import (
    BlackSource,
    Clipping,
    FrameStatus,
    GradKind,
    KeeperLength,
    Layout,
    LevelSource,
    Loss,
    NoiseSource,
    PlaneName,
    ShiftSource,
    SunSide,
    Verdict,
)
from auditor.model.errors import FrameFailure
from auditor.model.facts import CameraFacts, DifferingCopy, ExposureFacts, LensFacts, Position
from auditor.model.findings import Finding
from auditor.model.numbers import counted_stops, share_text, time_text
from auditor.model.optics import FrameOptics, LensShading
from auditor.model.rejected import Rejected
from auditor.model.remark import PairDoubt, Remark
from auditor.model.settings import Settings
from auditor.model.text import Glance

SCHEMA_VERSION = "2.0"


@dataclass(frozen=True, slots=True)
class StopHistogram:
    """Counts per fraction of a stop below saturation; bin i spans first_stop + i*step and on.

    Pixels at or under black are in ``zero_fraction``, not here.
    """

    first_stop: float
    """Stops below saturation where the first bin begins; negative: above it."""
    step: float
    """Width of a bin, stops."""
    counts: tuple[int, ...] = field(repr=False)
    """Pixels per bin."""


@dataclass(frozen=True, slots=True)
class ChannelFigures:
    """One colour plane of one frame, judged against the settled saturation."""

    name: PlaneName
    """G1 shares its rows with red, G2 with blue; L is the one plane of a monochrome sensor."""
    black_dn: float
    """Black level, raw data numbers."""
    black_source: BlackSource
    """Where the black level is from."""
    saturation_dn: float
    """Where the plane clips, raw data numbers."""
    saturation_source: LevelSource
    """The file's claim, this frame's own pile-up, its other channels, its sisters on this card, or
    earlier shoots."""
    blown_from_dn: float
    """Pixels at or above are blown: the lower edge of the clipping level's spread."""
    read_noise_dn: float | None
    """Read noise, standard deviation in data numbers."""
    gain_dn_per_e: float | None
    """Data numbers per electron."""
    noise_floor_dn: float | None
    """Signal at which one pixel's signal-to-noise ratio is 1: (g + sqrt(g^2 + 4 r^2)) / 2, black
    subtracted."""
    noise_source: NoiseSource | None
    """How the noise was measured."""
    blown_fraction: float
    """Share of the plane's pixels at or above saturation."""
    blocked_fraction: float | None
    """Share of the plane's area under the noise floor, judged on local means."""
    zero_fraction: float
    """Share of the plane's pixels at or under black."""
    headroom_stops: float | None
    """Saturation over the bright end."""
    shadow_room_stops: float | None
    """The dark end over the noise floor; negative: it is under."""
    median_stops: float | None
    """Median below saturation, as a positive number."""
    mean_stops: float | None
    """Mean below saturation, as a positive number."""
    dynamic_range_stops: float | None
    """Saturation over the noise floor."""
    blown_one_stop_less: float
    """The most that would be blown with one stop less: clipped pixels hide their height."""
    blocked_one_stop_more: float | None
    """The blocked share if it had been given one stop more."""
    histogram: StopHistogram
    blown_one_stop_more: float = 0.0
    """The blown share if it had been given one stop more."""
    blocked_one_stop_less: float | None = None
    """The blocked share if it had been given one stop less."""
    white_tag_dn: float = 0.0
    """Saturation as the file claims it."""
    linear_limit_dn: float | None = None
    """Where the sensor stops being linear: as the file says, or as its noise was seen to fall."""
    notes: tuple[str, ...] = ()
    """What is worth knowing, in words; the reason of each null."""
    remarks: tuple[Remark, ...] = ()
    """The same as codes and figures."""

    @property
    def tone_range_stops(self) -> float | None:
        """Bright end over dark end; None where one of them is not measured."""
        span, above, below = (
            self.dynamic_range_stops, self.headroom_stops, self.shadow_room_stops
        )  # fmt: skip
        return None if span is None or above is None or below is None else span - above - below


@dataclass(frozen=True, slots=True)
class Patch:
    """A connected area: share of the frame, centre (x, y) and box (left, top, right, bottom)."""

    share: float
    """Of the frame."""
    centre: tuple[float, float]
    """x, y."""
    box: tuple[float, float, float, float]
    """Left, top, right, bottom."""
    where: str = ""
    """In words: "upper left third"."""


@dataclass(frozen=True, slots=True)
class ThirdsShare:
    """Blown and blocked share within the upper, middle and lower third of the upright frame."""

    blown: tuple[float, float, float]
    """Any plane blown."""
    blocked: tuple[float | None, float | None, float | None]
    """Every plane under its floor."""


@dataclass(frozen=True, slots=True)
class PreviewStory:
    """The camera's preview against the raw data.

    Parameters
    ----------
    blown_fraction, blocked_fraction : float
        As the preview shows them.
    early_by_channel_stops : dict
        "R", "G", "B": by how many stops the preview clips before the sensor does (positive:
        too early); absent where the picture does not tell.
    early_stops : float or None
        How far the whole preview is from the raw data, by the channel that clips least early: the
        one with the least white balance multiplier, or what the others tell of it.
    by_white_balance_stops : dict
        The part that the white balance multipliers explain, per channel (log2 of the multiplier).
    """

    width: int
    """Pixels."""
    height: int
    """Pixels."""
    blown_fraction: float
    blocked_fraction: float
    early_by_channel_stops: dict[str, float]
    early_stops: float | None
    by_white_balance_stops: dict[str, float]
    counts: dict[str, tuple[int, ...]]
    """Histogram of the preview by channel, over its codes from darkest to brightest."""
    text: str = ""
    """In a sentence."""
    remarks: tuple[Remark, ...] = ()
    """The same as codes and figures."""


@dataclass(frozen=True, slots=True)
class HotFigures:
    """Hot pixels of one frame."""

    count: int
    """Pixels."""
    per_megapixel: float
    """Pixels in a million."""
    lasting: int = 0
    """How many of them stay: see :class:`LastingHotPixels`."""


@dataclass(frozen=True, slots=True)
class LastingHotPixels:
    """The pixels of one sensor that are hot in frame after frame, whatever it looks at.

    Parameters
    ----------
    frames : int
        Frames of that sensor that were looked at.
    count : int
        Pixels that are hot in at least three frames of at least two views. Set-ups within two
        minutes of each other count as one view, a dark frame as one of its own.
    positions : tuple of (int, int)
        Row and column on the visible sensor, those hot most often first; at most a thousand.
    seen : tuple of int
        In how many frames each of these was hot.
    """

    body: str
    """Model, with the serial number where known."""
    frames: int
    count: int
    positions: tuple[tuple[int, int], ...]
    seen: tuple[int, ...]
    sensor: str = ""
    """Layout, size and depth, and the lens of a phone's module: a body may have several."""


@dataclass(frozen=True, slots=True)
class FrameSize:
    """Visible pixels and bits per sample."""

    width: int
    """Pixels."""
    height: int
    """Pixels."""
    bit_depth: int
    """Bits per sample as recorded."""


@dataclass(frozen=True, slots=True, repr=False)
class FrameResult(Glance):
    """One file of the card, measured and judged, or unreadable with the reason.

    Examples
    --------
    >>> from auditor.api import audit_frame
    >>> frame = audit_frame("/media/card/DCIM/100/IMG_0042.DNG")  # doctest: +SKIP
    >>> frame.channels[0].headroom_stops                          # doctest: +SKIP
    1.43
    """

    id: str
    """Unique in the audit; other records name frames by it."""
    input: int
    """Which of the inputs it was found under, from 0."""
    file: str
    """Path relative to that input, '/'-separated."""
    status: FrameStatus
    """Whether the pixels could be measured."""
    error: FrameFailure | None
    camera: CameraFacts
    lens: LensFacts
    orientation: int | None
    """Exif orientation, 1 to 8."""
    captured_at: str | None
    """ISO 8601 with the subseconds, and with the offset when the file holds one."""
    exposure: ExposureFacts
    position: Position | None = None
    temperature_c: float | None = None
    """Temperature in the body as it tells it, degrees Celsius."""
    white_balance: dict[str, float] = field(default_factory=dict)
    """As-shot multipliers by channel, green 1; empty where unknown."""
    size: FrameSize | None = None
    layout: Layout | None = None
    """How colour lies on the sensor."""
    channels: tuple[ChannelFigures, ...] = ()
    blown_fraction: float | None = None
    """Share of the frame where any plane is blown."""
    blown_all_fraction: float | None = None
    """Share of the frame where every plane is blown."""
    blocked_fraction: float | None = None
    """Share of the frame where every plane is under its floor."""
    largest_blown_area: Patch | None = None
    largest_blocked_area: Patch | None = None
    thirds: ThirdsShare | None = None
    tone_range_stops: float | None = None
    """Bright end over dark end."""
    headroom_stops: float | None = None
    """How much more light the frame could have taken: the least headroom of its planes, 0 when
    blown."""
    preview: PreviewStory | None = None
    hot_pixels: HotFigures | None = None
    sharpness: float | None = None
    """Fine detail over noise, for comparing frames of one set-up."""
    lens_shading: LensShading | None = None
    optics: FrameOptics | None = None
    findings: tuple[Finding, ...] = ()
    verdict: Verdict = Verdict.UNREADABLE
    """What became of the ends of its tones."""
    clipping: Clipping | None = None
    """"seen", "not seen" or "may be clipped": the level is only claimed, and many pixels lie at the
    top of what is recorded. None for what was not measured."""
    loss: Loss | None = None
    """How grave the loss at the bright end is: "none", "glints", "patch", "channel" or
    "all channels"; None for what was not measured."""
    companions: tuple[str, ...] = ()
    """JPEG and sidecar files of the same name beside it."""
    also_at: tuple[str, ...] = ()
    """Ids of the same bytes elsewhere."""
    differing_copies: tuple[DifferingCopy, ...] = ()
    kind: str = ""
    """The container, by content."""
    notes: tuple[str, ...] = ()
    """What is worth knowing, in words; the reason of each null."""
    remarks: tuple[Remark, ...] = ()
    """The same as codes and figures."""

    def glance(self) -> Iterator[tuple[str, str]]:
        """Yield id, exposure, what was lost, headroom, findings."""
        exposure = self.exposure
        settings = (
            None if exposure.time_s is None else time_text(exposure.time_s),
            None if exposure.f_number is None else f"f/{exposure.f_number:g}",
            None if exposure.iso is None else f"ISO {exposure.iso:g}",
        )
        yield "", self.id
        yield "exposure", ", ".join(part for part in settings if part)
        yield "verdict", self.verdict
        yield "error", "" if self.error is None else self.error.message
        if self.blown_fraction is not None:
            yield "blown", share_text(self.blown_fraction)
        if self.blocked_fraction is not None:
            yield "blocked", share_text(self.blocked_fraction)
        if self.headroom_stops is not None:
            yield "headroom", counted_stops(self.headroom_stops)
        yield "findings", ", ".join(finding.code for finding in self.findings)


@dataclass(frozen=True, slots=True, kw_only=True)
class MovedPlaces:
    """Where static structure blurred by itself in one frame of a set-up, as leaves do in wind."""

    frame: str
    """Frame id."""
    share: float
    """Share of what has structure and is static in the set-up."""
    places: tuple[tuple[bool | None, ...], ...]
    """Cells of the picture, upright, row by row: whether it moved there; null where too little
    has structure to tell."""


@dataclass(frozen=True, slots=True)
class Setup:
    """Frames of one composition, in order of time.

    ``shift_px`` gives (right, down) in sensor pixels, upright, for each frame against
    ``shift_reference``; None where it could not be measured.
    """

    id: str
    """Other records name set-ups by it."""
    frames: tuple[str, ...]
    """Frame ids."""
    started_at: str | None
    """When the first frame was taken."""
    focal_mm: float | None
    """Focal length, millimetres."""
    shift_px: tuple[tuple[float, float] | None, ...]
    """Right and down in sensor pixels, upright, of each frame against the reference; null where it
    could not be measured."""
    notes: tuple[str, ...] = ()
    """What is worth knowing, in words; the reason of each null."""
    remarks: tuple[Remark, ...] = ()
    """The same as codes and figures."""
    shift_correlation: tuple[float | None, ...] = ()
    """Of each frame with the one that its shift was measured against; the first has none."""
    shift_error_px: tuple[float | None, ...] = ()
    """Standard error of each shift, right or down, in sensor pixels."""
    shift_source: tuple[ShiftSource | None, ...] = ()
    """What each shift was measured on: patches of single pixels, else means over tiles; null for
    the reference, and where no shift could be measured."""
    next_time: NextTime | None = None
    """None where nothing of it was measured unfiltered, or nothing is to be gained."""
    moved: tuple[MovedPlaces, ...] = ()
    """Frames in which something moved by itself, each against the sharpest of its kind."""
    shift_reference: str | None = None
    """The frame that shifts are measured against: the first, unless more frames can be placed
    against another by their patches, as when the first is blown all over."""

    def placed(self) -> Iterator[tuple[str, tuple[float, float], float]]:
        """Yield the frames whose shift was measured, with it and its standard error, in pixels."""
        for frame, shift, error in zip(
            self.frames, self.shift_px, self.shift_error_px, strict=False
        ):
            if shift is not None and error is not None:
                yield frame, shift, error


@dataclass(frozen=True, slots=True)
class Marking:
    """A filter's marking in its three ways of being written."""

    stops: float
    """Stops."""
    density: float
    """Optical density, -log10 of transmittance."""
    factor: float
    """Filter factor, 2^stops."""
    label: str = ""
    """As usually written."""


@dataclass(frozen=True, slots=True, repr=False)
class SiblingPair(Glance):
    """A short frame and its longer, filtered sibling.

    Examples
    --------
    >>> from auditor.api import read_audit
    >>> read_audit("evening").siblings[0].filter_stops  # doctest: +SKIP
    6.18
    """

    setup: str
    """Set-up id."""
    short: str
    """Frame id."""
    long: str
    """Frame id."""
    exposure_difference_stops: float
    """From the settings alone: log2(t_long/t_short) + 2 log2(N_short/N_long) +
    log2(ISO_long/ISO_short)."""
    filter_stops: float
    """Measured: by how much the longer frame's light was held back."""
    filter_stops_by_channel: dict[str, float]
    """By R, G, B."""
    cast_stops: dict[str, float]
    """R and B: that channel's filter stops less green's; positive: held back more than green."""
    light_drift_stops: float | None
    """Ambient change between the two, where it can be measured."""
    nearest_marking: Marking
    off_marking_stops: float
    """Measured less marked; positive: denser than marked."""
    matched_time_s: float | None
    """True time; the drift goes on through it, where it is known. None where the light falls too
    fast for any."""
    placement_difference_stops: float
    """Long against short as recorded."""
    confidence: float
    """The chance that ``filter_stops`` lies within a tenth of a stop of the truth."""
    reasons: tuple[str, ...] = ()
    """Why they were paired."""
    known_filter: str | None = None
    """Name of the recurring filter in the history that this one matches."""
    best: bool = True
    """Whether this short frame is the best sibling of the long one (many to one is allowed)."""
    match: PairMatch | None = None
    density_map: tuple[tuple[float | None, ...], ...] = ()
    """Filter stops over the upright picture, rows from the top; None where nothing tells."""
    doubts: tuple[PairDoubt, ...] = ()
    """What the figure may be off by, and why; each is a sentence in ``reasons`` as well."""
    remarks: tuple[Remark, ...] = ()
    """``reasons`` but for the doubts, as codes and figures."""

    def glance(self) -> Iterator[tuple[str, str]]:
        """Yield both frames, the filter's stops and its cast."""
        yield "", f"{self.short} and {self.long}"
        yield "filter", counted_stops(self.filter_stops)
        yield "marking", self.nearest_marking.label or counted_stops(self.nearest_marking.stops)
        yield (
            "cast",
            ", ".join(
                f"{name} {counted_stops(stops, signed=True, digits=2)}"
                for name, stops in self.cast_stops.items()
            ),
        )
        if self.matched_time_s is not None:
            yield "matched time", time_text(self.matched_time_s)
        yield "confidence", f"{self.confidence:.2f}"


@dataclass(frozen=True, slots=True)
class Bracket:
    """A run of frames at stepped exposures of one composition."""

    setup: str
    """Set-up id."""
    frames: tuple[str, ...]
    """Frame ids."""
    step_stops: float
    """Step between neighbours in exposure."""
    covered_fraction: float
    """Share of the scene that some frame records: no plane blown there, and not every plane under
    its floor."""
    covered_by_frame: dict[str, float]
    """The same by frame id."""
    needed: tuple[str, ...]
    """The fewest frames that cover as much."""
    not_needed: tuple[str, ...]
    """Frames that add nothing to them."""
    lost_bright_fraction: float = 0.0
    """Share blown in every frame."""
    lost_dark_fraction: float = 0.0
    """Share under the floor in every frame."""
    order: str = ""
    """In which order the steps were taken."""
    notes: tuple[str, ...] = ()
    """What is worth knowing, in words; the reason of each null."""
    blend: tuple[BlendFrame, ...] = ()
    """The needed frames, darkest first, each with its job; empty where noise was not measured."""
    noisy_fraction: float | None = None
    """Share of the scene under the clean signal-to-noise ratio after blending."""


@dataclass(frozen=True, slots=True)
class Grad:
    """A graduated filter, from a pair without and with it.

    ``edge_at`` is the share of the height from the top where the density is half of its top
    value, ``transition`` the share of the height from 90 % to 10 % of it. ``profile_stops``
    is the density over the height, top first.
    """

    setup: str
    """Set-up id."""
    without: str
    """Frame id."""
    with_: str
    """Frame id."""
    edge_at: float
    """Share of the height from the top where the density is half of its top value."""
    stops_at_top: float
    """Density at the top, stops."""
    transition: float
    """Share of the height from 90 % to 10 % of the density."""
    profile_stops: tuple[float, ...] = ()
    """Density over the height, top first."""
    notes: tuple[str, ...] = ()
    """What is worth knowing, in words; the reason of each null."""
    remarks: tuple[Remark, ...] = ()
    """The same as codes and figures."""


@dataclass(frozen=True, slots=True)
class SkyBalance:
    """How the sky stands over the ground in one frame, and what would balance it."""

    frame: str
    """Frame id."""
    sky_over_ground_stops: float | None = None
    """None where the ground is blown too, or where the sky ends on no straight line."""
    sky_headroom_stops: float | None = None
    """Headroom of the sky."""
    common_strength_stops: float | None = None
    """The common graduated strength that would have balanced it; None where none is needed, or
    where it cannot be measured."""
    horizon_at: float | None = None
    """Where the sky ends, in the middle of the picture: share of the height from the top. None
    where the columns of the picture do not agree on a straight line."""
    at_least: bool = False
    """Whether the sky stands at least so far over the ground: its middle is blown, or that of the
    ground lies under the noise floor. The strength then is the least, too."""
    horizon_ends: tuple[float, float] | None = None
    """The same line at the picture's left and right edge."""
    at_line_stops: float | None = None
    """How much brighter the sky just above the line is than what lies just below."""
    kind: GradKind = GradKind.UNTOLD
    """The graduated filter that fits: "soft" where the line is broken, "reverse" where the sky is
    brightest at the line, else "hard"; empty where there is no line."""
    notes: tuple[str, ...] = ()
    """Why a figure is missing, or only the least it can be."""
    remarks: tuple[Remark, ...] = ()
    """The same as codes and figures."""


@dataclass(frozen=True, slots=True)
class Panorama:
    """Frames panned across one view."""

    frames: tuple[str, ...]
    """Frame ids."""
    exposure_spread_stops: float
    """Largest difference of the exposures from framing to framing; the steps of a bracket at every
    framing do not count."""
    overlaps: tuple[float, ...] = ()
    """Share of the width that neighbours share."""
    notes: tuple[str, ...] = ()
    """What is worth knowing, in words; the reason of each null."""
    remarks: tuple[Remark, ...] = ()
    """The same as codes and figures."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RankedBehind:
    """A frame that stands behind a keeper."""

    frame: str
    """Frame id."""
    why: str
    """In what it is worse."""


@dataclass(frozen=True, slots=True)
class Keeper:
    """The frame to keep of one set-up: of its short frames, or of those behind one filter."""

    setup: str
    """Set-up id."""
    frame: str
    """Frame id."""
    kind: KeeperLength
    """"short" or "long"."""
    why: tuple[str, ...]
    """Reasons."""
    rank: tuple[str, ...] = ()
    """All frames that it was chosen from, best first."""
    behind: tuple[RankedBehind, ...] = ()
    """The figures of the next ones; the last lines of ``why`` say the same."""


@dataclass(frozen=True, slots=True)
class LightPoint:
    """The light of the scene at one moment.

    Parameters
    ----------
    scene_ev100 : float
        Exposure value that would have placed the frame's middle tone at a metered grey
        (ISO 12232, saturation-based), corrected for its filter.
    sun_altitude_deg : float or None
        Geometric, refraction left out; None where place or time is not known.
    drift_stops_per_min : float or None
        How the light changes round this moment, by what holds still in unfiltered frames;
        negative: it falls. None without a clock, where too few such frames lie near, or where
        they disagree (flickering light).
    moved_stops : float or None
        How much the light changed while the shutter was open; None for less than a second, too.
    phase : str or None
        Time against sunrise and sunset: "night", "before sunrise", "after sunrise", "day",
        "before sunset" or "after sunset".
    day : str or None
        The evening or morning it belongs to, by its date; None without a clock.
    chain : int or None
        Points of one chain saw the same static things, so that they may be compared; None where
        nothing links a point to another.
    chain_stops : float or None
        The light against the chain's first point, by what is static.
    """

    frame: str
    """Frame id."""
    captured_at: str | None
    """ISO 8601."""
    scene_ev100: float
    sun_altitude_deg: float | None = None
    filtered: bool = False
    """Whether a filter was on."""
    drift_stops_per_min: float | None = None
    moved_stops: float | None = None
    phase: str | None = None
    day: str | None = None
    chain: int | None = None
    chain_stops: float | None = None


@dataclass(frozen=True, slots=True)
class SunDay:
    """Sunrise, sunset and the twilights of one day at one place, as ISO 8601 times.

    The day runs from one midnight of the sun to the next, so dusk after local midnight still
    belongs to its evening. An event that does not come is None, with the reason.

    Parameters
    ----------
    date : str
        The local day.
    noon_at, noon_altitude_deg
        When the sun stands highest, and how high.
    reasons : dict
        Name of the missing event to the reason in words.
    assumption : str
        What was taken for granted of the clock or the place; may be empty.
    """

    date: str
    latitude_deg: float
    """North positive."""
    longitude_deg: float
    """East positive."""
    noon_at: str
    noon_altitude_deg: float
    astronomical_dawn: str | None = None
    """ISO 8601; null: it does not come, see reasons."""
    nautical_dawn: str | None = None
    """ISO 8601; null: it does not come, see reasons."""
    civil_dawn: str | None = None
    """ISO 8601; null: it does not come, see reasons."""
    sunrise: str | None = None
    """ISO 8601; null: it does not come, see reasons."""
    sunset: str | None = None
    """ISO 8601; null: it does not come, see reasons."""
    civil_dusk: str | None = None
    """ISO 8601; null: it does not come, see reasons."""
    nautical_dusk: str | None = None
    """ISO 8601; null: it does not come, see reasons."""
    astronomical_dusk: str | None = None
    """ISO 8601; null: it does not come, see reasons."""
    reasons: dict[str, str] = field(default_factory=dict)
    assumption: str = ""
    stays: dict[str, SunSide] = field(default_factory=dict)
    """Name of the missing event to the side of its edge on which the sun stays."""
    assumed_utc_offset_h: float | None = None
    """Hours that the clock was taken to be before UTC, by the longitude; null: the file tells."""


@dataclass(frozen=True, slots=True)
class Lesson:
    """One of the things worth knowing of the whole shoot."""

    text: str
    """In a sentence."""
    evidence: str
    """The figures behind it."""
    frames: tuple[str, ...] = ()
    """Frame ids."""
    code: str = ""
    """The finding it rests on; may be empty."""


@dataclass(frozen=True, slots=True)
class PrintFit:
    """Whether one keeper will carry a print."""

    frame: str
    """Frame id."""
    sizes_cm: dict[str, tuple[float, float]]
    """Pixels an inch, as text, to (width, height)."""
    viewing_cm: dict[str, float]
    """Pixels an inch, as text, to the nearest viewing distance."""
    paper_range_stops: float
    """What the paper can show."""
    merged_black_fraction: float
    """Share that would merge into paper black."""
    merged_white_fraction: float
    """At least so much: what every plane blows, or tiles whose mean is paper white. Points smaller
    than a tile that only the rendering takes to white are not in it."""
    unfit_stops: float | None
    """Stops of the frame that do not fit."""
    notes: tuple[str, ...] = ()
    """What is worth knowing, in words; the reason of each null."""
    neutral_merged_black_fraction: float | None = None
    """The same for a neutral black-and-white print."""
    neutral_merged_white_fraction: float | None = None
    """At least so much, likewise."""


@dataclass(frozen=True, slots=True, repr=False)
class Audit(Glance):
    """A whole audit.

    Examples
    --------
    >>> from auditor.api import read_audit
    >>> audit = read_audit("evening")                     # doctest: +SKIP
    >>> audit.frame("DCIM/100/IMG_0042.DNG").verdict      # doctest: +SKIP
    'held'
    """

    schema_version: str
    """Raised whenever a name or a meaning changes."""
    tool_version: str
    """Of the program that wrote it."""
    made_at: str
    """ISO 8601."""
    settings: Settings
    inputs: tuple[str, ...]
    """The paths that were audited."""
    frames: tuple[FrameResult, ...]
    setups: tuple[Setup, ...] = ()
    siblings: tuple[SiblingPair, ...] = ()
    brackets: tuple[Bracket, ...] = ()
    grads: tuple[Grad, ...] = ()
    skies: tuple[SkyBalance, ...] = ()
    panoramas: tuple[Panorama, ...] = ()
    rejected: tuple[Rejected, ...] = ()
    keepers: tuple[Keeper, ...] = ()
    light: tuple[LightPoint, ...] = ()
    lessons: tuple[Lesson, ...] = ()
    prints: tuple[PrintFit, ...] = ()
    sun_days: tuple[SunDay, ...] = ()
    lasting_hot_pixels: tuple[LastingHotPixels, ...] = ()
    filters: tuple[FilterVerdict, ...] = ()
    dark_frames: tuple[DarkFrameNeed, ...] = ()
    isos: tuple[IsoFigures, ...] = ()
    forecast: tuple[LightForecast, ...] = ()
    passed_over: dict[str, int] = field(default_factory=dict)
    """Other files by suffix, counted."""
    complete: bool = True
    """False for a partial audit, left by a stop in the middle."""
    notes: tuple[str, ...] = ()
    """What is worth knowing, in words; the reason of each null."""

    def glance(self) -> Iterator[tuple[str, str]]:
        """Yield how many frames, groups and findings there are."""
        verdicts = Counter(frame.verdict for frame in self.frames)
        yield "", f"of {', '.join(self.inputs)}"
        yield "frames", str(len(self.frames))
        yield "verdicts", ", ".join(f"{count} {word}" for word, count in verdicts.most_common())
        yield "set-ups", str(len(self.setups))
        yield "pairs", str(len(self.siblings))
        yield "brackets", str(len(self.brackets))
        yield "keepers", str(len(self.keepers))
        yield "findings", str(sum(len(frame.findings) for frame in self.frames))

    def frame(self, frame_id: str) -> FrameResult:
        """Return the frame of that id; KeyError where there is none."""
        for frame in self.frames:
            if frame.id == frame_id:
                return frame
        raise KeyError(frame_id)
