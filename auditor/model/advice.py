"""What an audit advises, as figures: next time, blending, filters on hand, dark frames, tomorrow.

Sentences are put to them in :mod:`auditor.words`.
"""

from __future__ import annotations

from dataclasses import dataclass

from auditor.model.codes import BlendJob, Cast, GradKind
from auditor.model.remark import Remark


@dataclass(frozen=True, slots=True, kw_only=True)
class BehindFilter:
    """The shutter time behind one filter of one's own; None: the light changes too fast for any."""

    filter: str
    """Its name."""
    time_s: float | None
    """Seconds; null where the light changes too fast for any."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GradAdvice:
    """A graduated filter for next time.

    Parameters
    ----------
    kind : str
        "soft", "hard" or "reverse"; empty where the picture does not tell.
    edge_at : float
        Where its density halves, as a share of the height from the top.
    """

    stops: float
    """Its strength."""
    density: float
    """The same as optical density."""
    kind: GradKind
    edge_at: float


@dataclass(frozen=True, slots=True, kw_only=True)
class NextTime:
    """Settings for one set-up, for the same light once more.

    Parameters
    ----------
    time_s : float
        Without a filter, on the dial's third stops, true seconds.
    f_number, iso : float or None
        None where the files do not hold them.
    frame : str
        The unfiltered frame whose settings they are worked out from.
    change_stops : float
        Light that they record more than that frame's settings did.
    headroom_stops : float
        The headroom that they leave.
    joint : tuple of str
        Frames that share these settings: those of the set-up that set the limit, or of a panorama.
    behind : tuple of BehindFilter
        The times behind the filters that were used in this shoot or are known from earlier ones.
    why : tuple of str
        Reasons, a sentence each; what forbids more stands among them.
    text : str
        The settings in one line.
    remarks : tuple of Remark
        The reasons as codes and figures.
    """

    time_s: float
    f_number: float | None
    iso: float | None
    frame: str
    change_stops: float
    headroom_stops: float
    joint: tuple[str, ...] = ()
    behind: tuple[BehindFilter, ...] = ()
    grad: GradAdvice | None = None
    why: tuple[str, ...] = ()
    text: str = ""
    remarks: tuple[Remark, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class BlendFrame:
    """One frame of a blend.

    Parameters
    ----------
    job : str
        "all", "highlights", "middle tones" or "shadows".
    share : float
        Share of the scene that is taken from it: where it is the brightest that is not blown.
    noisy_fraction : float
        Share of the scene that is taken from it and lies under the clean signal-to-noise ratio.
    shift_px : float or None
        How far the picture lies from that of the blend's first frame; None where it is not known.
    shift_error_px : float or None
        What that figure may be off by.
    """

    frame: str
    """Frame id."""
    job: BlendJob
    share: float
    noisy_fraction: float
    shift_px: float | None = None
    shift_error_px: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PairMatch:
    """What makes a filtered frame look like its unfiltered sibling in a converter.

    Parameters
    ----------
    exposure_offset_stops : float
        To be added to the filtered frame.
    white_balance_multipliers : (float, float, float)
        R, G, B for the filtered frame, green 1: those of the unfiltered one, and the filter's
        cast undone. All 1 stand for the unfiltered frame's own where its file holds none.
    """

    exposure_offset_stops: float
    white_balance_multipliers: tuple[float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class FilterVerdict:
    """One filter over all its pairs of the shoot.

    Parameters
    ----------
    stops : float
        Median over its pairs; that of green where there is one.
    spread_stops : float or None
        Largest less smallest; None for a single pair.
    cast : str
        "neutral", "warm", "cool", "green" or "magenta", from the medians.
    """

    name: str
    """As it is spoken of."""
    pairs: int
    """How many pairs measured it."""
    frames: tuple[str, ...]
    """The frames behind it."""
    stops: float
    spread_stops: float | None
    cast_stops: dict[str, float]
    """R and B: stops held back more than green, medians."""
    cast: Cast
    marking_stops: float
    """The nearest usual marking."""
    off_marking_stops: float
    """Measured less marked; positive: denser."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DarkFrameNeed:
    """The dark frame that matches long exposures: of the same body, ISO and time, as warm.

    Parameters
    ----------
    frames : tuple of str
        Long exposures that it serves.
    found : str or None
        A dark frame of the shoot that matches; None where there is none.
    hot_pixels : int or None
        Hot pixels of the first of these frames that the dark frame shows as well; None without one.
    """

    body: str
    """The camera."""
    iso: float | None
    """Its ISO."""
    time_s: float
    """How long, seconds."""
    temperature_c: float | None
    """How warm the camera was; null where the file does not hold it."""
    frames: tuple[str, ...]
    found: str | None = None
    hot_pixels: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class IsoFigures:
    """What one body loses at one ISO, by its worst channel, from this shoot and earlier ones.

    Parameters
    ----------
    full_well_e, read_noise_e, range_stops : float or None
        None where gain or noise was not measured.
    full_well_loss_stops : float or None
        How much less it holds than the next lower full-stop ISO, beyond what the ISO itself costs.
    range_loss_stops : float or None
        Range lost against the best ISO of this body.
    gain_step : bool
        Whether a second gain sets in here: less read noise and more range than one ISO lower.
    more_in_vain : bool
        Whether no higher ISO reads quieter: brightening afterwards does as much.
    """

    body: str
    """The camera."""
    iso: float
    """ISO."""
    frames: int
    """Frames of this shoot; 0 where earlier shoots alone tell."""
    full_well_e: float | None
    read_noise_e: float | None
    range_stops: float | None
    full_well_loss_stops: float | None = None
    range_loss_stops: float | None = None
    gain_step: bool = False
    more_in_vain: bool = False
    sensor: str = ""
    """Layout, size and depth: a body may have several."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LightForecast:
    """What light to expect at the same place the day after, and the settings for it.

    Parameters
    ----------
    at : str
        ISO 8601: when the sun stands as high again.
    setup : str
        The set-up whose light and settings these are.
    expected_ev100 : float
        Of the scene's middle tone, as on the day that it is taken from.
    day : str
        That day.
    time_s, f_number, iso
        Settings that leave a third of a stop, as this shoot's frames would have had.
    """

    at: str
    setup: str
    sun_altitude_deg: float | None
    """Degrees over the horizon, without refraction."""
    expected_ev100: float
    day: str
    time_s: float | None = None
    f_number: float | None = None
    iso: float | None = None
    behind: tuple[BehindFilter, ...] = ()
