"""Neutral density: strength in stops, density and factor, stacking, markings, drifting light.

One stop halves the light. Density ``D = -log10 T``, factor ``F = 10^D = 2^stops``, so one unit
of density is 3.3219 stops. Densities add and factors multiply where filters are stacked (no
light thrown back and forth between them).

Standard library only: a shutter time is printed without loading an array library.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from auditor.model.audit import Marking, SiblingPair
from auditor.model.codes import Cast
from auditor.model.errors import WrongCall
from auditor.model.numbers import STOPS_PER_DENSITY, time_text

MOST_STOPS = 40.0
"""No photographic stack comes near; a larger figure is a slip of the pen."""


@dataclass(frozen=True, slots=True)
class FilterStrength:
    """How much light a filter holds back, in its three ways of being told."""

    stops: float

    @classmethod
    def from_stops(cls, stops: float) -> FilterStrength:
        """Make a strength from stops.

        Raises
        ------
        WrongCall
            Not a number, negative, or more than any stack of filters holds back.
        """
        if not (math.isfinite(stops) and 0 <= stops <= MOST_STOPS):
            raise WrongCall(
                f"A filter of {stops:g} stops cannot be. Give --stops between 0 and "
                f"{MOST_STOPS:.0f}, for example --stops 10."
            )
        return cls(stops)

    @classmethod
    def from_density(cls, density: float) -> FilterStrength:
        """Make a strength from optical density, ``stops = D / log10 2``."""
        if not (math.isfinite(density) and 0 <= density <= MOST_STOPS / STOPS_PER_DENSITY):
            raise WrongCall(
                f"A density of {density:g} cannot be. Densities run from 0 to about 6: "
                "--density 3.0 is a ten-stop filter. For stops use --stops, for a number such "
                "as 1000 use --factor."
            )
        return cls(density * STOPS_PER_DENSITY)

    @classmethod
    def from_factor(cls, factor: float) -> FilterStrength:
        """Make a strength from a filter factor, ``stops = log2 F``."""
        if not (math.isfinite(factor) and 1 <= factor <= 2.0**MOST_STOPS):
            raise WrongCall(
                f"A filter factor of {factor:g} cannot be: a factor is 1 or more, "
                "for example --factor 64 for six stops."
            )
        return cls(math.log2(factor))

    @property
    def density(self) -> float:
        """Optical density, ``-log10`` of transmittance."""
        return self.stops / STOPS_PER_DENSITY

    @property
    def factor(self) -> float:
        """By how much the shutter time is multiplied."""
        return float(2.0**self.stops)

    def behind(self, time_s: float) -> float:
        """Return the shutter time behind the filter, ``t 2^stops``, in seconds."""
        return time_s * self.factor


def stacked(strengths: Iterable[FilterStrength]) -> FilterStrength:
    """Stack filters: stops and densities add, factors multiply."""
    return FilterStrength(sum(strength.stops for strength in strengths))


def marking_stops(stops: float) -> str:
    """Write a marking's stops: "1 stop", "16⅔ stops"."""
    return f"{_thirds(stops)} {'stop' if stops == 1 else 'stops'}"


def _marking(stops: float, density: float, factor: float) -> Marking:
    label = f"{marking_stops(stops)}, density {density:.1f}, ×{factor:.0f}"
    return Marking(stops, density, factor, label)


def _thirds(stops: float) -> str:
    """Write a marking's stops as they are written: whole, or with a third."""
    whole, thirds = divmod(round(3.0 * stops), 3)
    return f"{whole}{('', '⅓', '⅔')[thirds]}"


def filter_name(pair: SiblingPair) -> str:
    """Name the filter of a pair: by its name where it recurs, else by the nearest marking.

    Returns
    -------
    str
        "filter “six stops”", "10-stop filter", "16⅔-stop filter".
    """
    if pair.known_filter:
        return f"filter “{pair.known_filter}”"
    return f"{_thirds(pair.nearest_marking.stops)}-stop filter"


COMMON_MARKINGS: tuple[Marking, ...] = tuple(
    _marking(float(stops), round(0.3 * stops, 1), factor)
    for stops, factor in (
        (1, 2.0), (2, 4.0), (3, 8.0), (4, 16.0), (5, 32.0), (6, 64.0), (7, 128.0), (8, 256.0),
        (9, 500.0), (10, 1000.0), (11, 2000.0), (12, 4000.0), (13, 8000.0), (14, 16000.0),
        (15, 32000.0), (16, 64000.0), (20, 1000000.0),
    )
)  # fmt: skip
"""Whole stops, as filters and usual stacks are marked: the three figures as written, which
agree to a few hundredths of a stop (density 3.0 is 9.97 stops, ×1000 likewise)."""

RARE_MARKINGS: tuple[Marking, ...] = (
    _marking(20 / 3, 2.0, 100.0),
    _marking(23 / 3, 2.3, 200.0),
    _marking(26 / 3, 2.6, 400.0),
    _marking(50 / 3, 5.0, 100000.0),
)
"""Marked by a round factor, at two thirds of a stop."""

RARE_HANDICAP_STOPS = 0.15
"""By how much a rare marking must lie nearer than a common one: makers hold their markings to
about a third of a stop, so a filter of 6.4 stops is more likely a six than a "×100"."""


def nearest_marking(stops: float) -> Marking:
    """Return the usual marking that a measured filter most likely bears.

    Parameters
    ----------
    stops : float
        Measured stops, of green or of the mean of the channels.

    Returns
    -------
    Marking
        The nearest in stops, rare markings at a handicap.
    """
    handicaps = [(marking, 0.0) for marking in COMMON_MARKINGS]
    handicaps += [(marking, RARE_HANDICAP_STOPS) for marking in RARE_MARKINGS]
    return min(handicaps, key=lambda entry: abs(entry[0].stops - stops) + entry[1])[0]


@dataclass(frozen=True, slots=True)
class Exposed:
    """A shutter time in drifting light.

    Parameters
    ----------
    time_s : float or None
        None when the light falls faster than the exposure can gather it.
    short_stops : float
        By how much even an endless exposure would stay short; 0 when it can be reached.
    """

    time_s: float | None
    short_stops: float = 0.0


def drifting(steady_s: float, drift_stops_per_min: float) -> Exposed:
    """Return the time that gathers as much light as ``steady_s`` would in steady light.

    With the light changing by g stops a minute from the moment the shutter opens,
    ``steady = ∫ 2^(g u / 60) du`` from 0 to T, hence
    ``T = 60 / (g ln 2) · ln(1 + steady g ln 2 / 60)``. Falling light (g < 0) gathers at most
    ``60 / (-g ln 2)`` seconds' worth, however long the shutter stays open.

    Parameters
    ----------
    steady_s : float
        Seconds, positive.
    drift_stops_per_min : float
        Negative: the light falls.
    """
    rate = drift_stops_per_min * math.log(2.0) / 60.0
    gathered = steady_s * rate
    if abs(gathered) < 1e-9:
        return Exposed(steady_s)
    if gathered <= -1.0:
        return Exposed(None, math.log2(-gathered))
    return Exposed(math.log1p(gathered) / rate)


def steady_equivalent_s(time_s: float, drift_stops_per_min: float) -> float:
    """Return how long an exposure in steady light gathers the same: :func:`drifting` undone."""
    rate = drift_stops_per_min * math.log(2.0) / 60.0
    return time_s if abs(rate * time_s) < 1e-9 else math.expm1(rate * time_s) / rate


def rematched(time_s: float, more_stops: float, drift_stops_per_min: float) -> Exposed:
    """Return the time that gathers more light than an exposure did, opened at the same moment.

    Parameters
    ----------
    time_s : float
        How long the shutter stood open, in seconds.
    more_stops : float
        By how much more light is wanted; negative: less.
    drift_stops_per_min : float
        How the light changed, and goes on changing, from the moment it opened.
    """
    gathered_s = steady_equivalent_s(time_s, drift_stops_per_min)
    return drifting(gathered_s * 2.0**more_stops, drift_stops_per_min)


def counting_text(time_s: float) -> str:
    """Say a time as one counts it with a cable release: whole seconds, minutes, hours.

    Parameters
    ----------
    time_s : float
        Seconds, positive.

    Returns
    -------
    str
        "4 min 16 s", "34 s"; under one second as a shutter time, "1/8 s".
    """
    return time_text(time_s) if time_s < 1 else time_text(float(max(1, round(time_s))))


LEAST_CAST_STOPS = 0.1
"""Red or blue held back by so much more or less than green is a cast, told to a hundredth."""


def strongest_cast(cast_stops: Mapping[str, float]) -> tuple[str, float] | None:
    """Return the colour that is held back most unlike green, and by how many stops.

    Parameters
    ----------
    cast_stops : mapping
        "R", "B": stops held back beyond green's.

    Returns
    -------
    (str, float) or None
        None where the filter is neutral: the figures as they are told, rounded to a hundredth,
        all lie under a tenth of a stop.
    """
    strongest = max(cast_stops.items(), key=lambda cast: abs(cast[1]), default=None)
    if strongest is None or round(abs(strongest[1]), 2) < LEAST_CAST_STOPS:
        return None
    return strongest


def cast_word(cast_stops: Mapping[str, float]) -> Cast:
    """Name the colour that a filter lends: "warm", "cool", "green", "magenta" or "neutral".

    Parameters
    ----------
    cast_stops : mapping
        "R", "B": stops held back beyond green's. Blue held back more than red is warm, green
        held back more than both is magenta.
    """
    if strongest_cast(cast_stops) is None:
        return Cast.NEUTRAL
    red, blue = cast_stops.get("R", 0.0), cast_stops.get("B", 0.0)
    words = {Cast.WARM: blue - red, Cast.COOL: red - blue}
    words |= {Cast.GREEN: (red + blue) / 2.0, Cast.MAGENTA: -(red + blue) / 2.0}
    return max(words, key=lambda name: words[name])
