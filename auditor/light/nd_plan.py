"""Plan a shutter time behind filters: what ``auditor nd-time`` prints, as figures.

Sentences are put to the plan in :mod:`auditor.words.nd_plan`.

Standard library only, so that the answer is there at once.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

from auditor.light.exposure import parse_shutter
from auditor.light.filters import (
    MOST_STOPS,
    FilterStrength,
    drifting,
    nearest_marking,
    stacked,
)
from auditor.light.nominal import (
    LONGEST_DIAL_S,
    SHORTEST_DIAL_S,
    dial_of,
    nominal_name,
    true_time,
)
from auditor.model.apertures import STEPS_A_STOP, Series
from auditor.model.audit import Marking
from auditor.model.errors import WrongCall
from auditor.model.history import KnownFilter

TABLE_STOPS = 2
"""How far the table goes each way from the shutter asked for."""

MOST_DRIFT = 10.0
"""Stops a minute; an eclipse reaches about five."""


@dataclass(frozen=True, slots=True)
class NdRow:
    """One line of the table.

    Parameters
    ----------
    offset_stops : float
        Against the shutter asked for: positive is longer.
    metered : str
        Name of the unfiltered shutter on the dial that bears the shutter asked for (in thirds
        where none does); what no dial bears as it was written.
    metered_s : float
        Its true time.
    time_s : float or None
        Behind the filters, drift allowed for; None when the light falls too fast.
    setting : str
        What to do: "set 1/8 s", or "Bulb 4 min 16 s".
    asked : bool
        It is the row of the shutter asked for.
    """

    offset_stops: float
    metered: str
    metered_s: float
    time_s: float | None
    setting: str = ""
    asked: bool = False

    @property
    def dialled(self) -> bool:
        """Whether a dial bears its time."""
        return self.time_s is not None and SHORTEST_DIAL_S <= self.time_s <= LONGEST_DIAL_S


@dataclass(frozen=True, slots=True)
class NdPlan:
    """A shutter time behind filters.

    Parameters
    ----------
    shutter_text : str
        As it was written.
    nominal_s, true_s : float
        As written, in seconds; as the shutter truly runs.
    filters : tuple of OwnFilter
        In the order given.
    series : str
        The steps of the dial that bears the shutter asked for.
    steady_s : float
        Behind the filters in steady light.
    time_s : float or None
        With the drift allowed for; None when the light falls too fast to be caught up.
    least_s, most_s : float or None
        The same for a filter one spread thinner and denser, where the history knows it.
    answer : str
        The result in one sentence; where no time will do, what would.
    exact : bool
        The shutter time was taken as written.
    parts : tuple of str
        Each filter in words.
    """

    shutter_text: str
    nominal_s: float
    true_s: float
    strength: FilterStrength
    marking: Marking
    filters: tuple[OwnFilter, ...]
    drift_stops_per_min: float
    steady_s: float
    time_s: float | None
    short_stops: float
    least_s: float | None
    most_s: float | None
    rows: tuple[NdRow, ...]
    series: Series
    exact: bool = False
    parts: tuple[str, ...] = ()
    answer: str = ""
    formula: str = ""
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class OwnFilter:
    """A filter on hand.

    Parameters
    ----------
    known : KnownFilter or None
        What the history measured of it; None for a strength that was given.
    figure_alone : bool
        It was given by a figure, which is its name: "10 stops", "density 3".
    """

    name: str
    stops: float
    known: KnownFilter | None = None
    figure_alone: bool = False

    @classmethod
    def of(cls, known: KnownFilter) -> OwnFilter:
        """Take a filter of the history at its measured strength."""
        return cls(known.name, max(0.0, known.stops), known)

    @property
    def spread_stops(self) -> float:
        """By how much one measured pair scatters; 0 where it was not measured."""
        return self.known.spread_stops if self.known else 0.0


def plan_nd_time(
    shutter: str | float,
    *,
    stops: Sequence[float] = (),
    densities: Sequence[float] = (),
    factors: Sequence[float] = (),
    drift_stops_per_min: float = 0.0,
    filters: Sequence[str] = (),
    known: Sequence[KnownFilter] = (),
    exact: bool = False,
) -> NdPlan:
    r"""Plan the shutter time behind one filter or several stacked.

    Parameters
    ----------
    shutter : str or float
        The unfiltered shutter time as metered: "1/30", "4", "0.5s", "2m", "1'30\""; a number
        counts in seconds.
    stops, densities, factors : sequences of float
        Filters by any of their three figures; all that are given are stacked.
    drift_stops_per_min : float
        How the light changes while the shutter is open; negative: it falls.
    filters : sequence of str
        Names of filters that the history knows, taken at their measured density; or a filter of
        your own as "NAME=STOPS".
    known : sequence of KnownFilter
        The history's filters.
    exact : bool
        Take the shutter time as written instead of as the dial's name of a power of two.

    Returns
    -------
    NdPlan
        The time behind the filters, a table round it, notes and cautions: show the cautions.

    Raises
    ------
    WrongCall
        A figure or a name cannot be, or no filter is given; the message says what to write.

    Examples
    --------
    >>> from auditor.api import nd_time
    >>> nd_time("1/15", stops=[10]).steady_s
    64.0
    """
    check_drift(drift_stops_per_min)
    shutter = shutter if isinstance(shutter, str) else f"{shutter:.9f}".rstrip("0").rstrip(".")
    given = (*marked_filters(stops, densities, factors), *own_filters(filters, known))
    strength = _stacked(given)
    nominal_s = parse_shutter(shutter)
    exact = exact or is_timed(shutter)
    true_s = nominal_s if exact else true_time(nominal_s)
    steady_s = strength.behind(true_s)
    exposed = drifting(steady_s, drift_stops_per_min)
    # a stack one spread thinner, and one denser
    spread = math.hypot(*(one.spread_stops for one in given))
    ends = [
        drifting(steady_s * 2.0**off, drift_stops_per_min).time_s
        for off in (-spread, spread)
        if spread
    ]
    least_s, most_s = ends or (None, None)
    dial = dial_of(nominal_s)
    series: Series = "third" if dial is None else dial[0]
    rows = []
    for metered_s, name in _metered(true_s, series, on_dial=dial is not None and not exact):
        offset_stops = round(math.log2(metered_s / true_s), 9)
        rows.append(
            NdRow(
                offset_stops=offset_stops,
                metered=name,
                metered_s=metered_s,
                time_s=drifting(strength.behind(metered_s), drift_stops_per_min).time_s,
                asked=offset_stops == 0,
            )
        )
    return NdPlan(
        shutter_text=shutter,
        nominal_s=nominal_s,
        true_s=true_s,
        strength=strength,
        marking=nearest_marking(strength.stops),
        filters=given,
        drift_stops_per_min=drift_stops_per_min,
        steady_s=steady_s,
        time_s=exposed.time_s,
        short_stops=exposed.short_stops,
        least_s=least_s,
        most_s=most_s,
        rows=tuple(rows),
        series=series,
        exact=exact,
    )


def is_timed(shutter: str) -> bool:
    """Tell a time written to three digits or more, such as 30.0 or 0.512: none of a dial's."""
    digits = re.fullmatch(r"\s*0*(\d*)[.,](\d+)\s*s?\s*", shutter)
    return digits is not None and len((digits[1] + digits[2]).lstrip("0")) >= 3


def own_filters(names: Sequence[str], known: Sequence[KnownFilter]) -> list[OwnFilter]:
    """Return filters by their names: those of the history, and "NAME=STOPS" as it says.

    Raises
    ------
    WrongCall
        A name fits none of the history's filters or several, or the stops are none.
    """
    found = []
    for text in names:
        name, equals, written = text.rpartition("=")
        if not equals:
            found.append(OwnFilter.of(find_filter(text, known)))
            continue
        try:
            strength = FilterStrength.from_stops(float(written.replace(",", ".")))
        except ValueError:
            strength = None
        if strength is None or not name.strip():
            raise WrongCall(f"--filter {text[:60]!r} is no NAME=STOPS, such as --filter big=9.7.")
        found.append(OwnFilter(name.strip(), strength.stops))
    return found


def find_filter(name: str, known: Sequence[KnownFilter]) -> KnownFilter:
    """Return the history's filter of that name, or whose name alone holds that text.

    Raises
    ------
    WrongCall
        None or several do; the message lists the names there are.
    """
    wanted = name.strip().casefold()
    exact = [entry for entry in known if entry.name.casefold() == wanted]
    held = [entry for entry in known if wanted and wanted in entry.name.casefold()]
    found = exact or held
    if len(found) == 1:
        return found[0]
    names = "; ".join(entry.name for entry in (found or known))
    if not known:
        raise WrongCall(
            f"The history knows no filter yet, so {name[:60]!r} cannot be found. Audit shoots "
            "with filtered pairs first, or give --stops, --density or --factor."
        )
    trouble = "fits several filters" if found else "fits no filter"
    raise WrongCall(f"{name[:60]!r} {trouble} of the history. There are: {names}.")


def check_drift(drift: float) -> None:
    """Refuse a drift that no light has."""
    if not (math.isfinite(drift) and abs(drift) <= MOST_DRIFT):
        raise WrongCall(
            f"A drift of {drift:g} stops a minute cannot be. Clear light after sunset falls by a "
            "third of a stop a minute at the equator, a fifth at a latitude of 50 degrees: "
            "--drift -0.2 for falling light, --drift 0.2 for rising light."
        )


def _stacked(given: Sequence[OwnFilter]) -> FilterStrength:
    if not given:
        raise WrongCall(
            "Say which filter: --stops 6, --density 1.8, --factor 64 or --filter NAME; "
            "repeat them for stacked filters."
        )
    total = stacked(FilterStrength.from_stops(one.stops) for one in given)
    if total.stops > MOST_STOPS:
        raise WrongCall(
            f"These filters stacked would measure {total.stops:g} stops; no more than "
            f"{MOST_STOPS:.0f} can be. Leave out --stops, --density or --factor given too often."
        )
    return total


def marked_filters(
    stops: Sequence[float], densities: Sequence[float], factors: Sequence[float]
) -> list[OwnFilter]:
    """Return filters given by any of their three figures, which are their names."""
    given = [(FilterStrength.from_stops(value), f"{value:g} stops") for value in stops]
    given += [(FilterStrength.from_density(value), f"density {value:g}") for value in densities]
    given += [(FilterStrength.from_factor(value), f"factor {value:g}") for value in factors]
    return [OwnFilter(name, one.stops, figure_alone=True) for one, name in given]


def _metered(true_s: float, series: Series, *, on_dial: bool) -> list[tuple[float, str]]:
    """Return the times of the table with their names, shortest first.

    They are the dial's; a time that is not on it keeps a row of its own between them, unnamed.
    """
    steps = STEPS_A_STOP[series]
    place = math.log2(true_s) * steps
    near = [
        step / steps
        for step in range(
            math.ceil(place) - TABLE_STOPS * steps - 1, math.floor(place) + TABLE_STOPS * steps + 2
        )
    ]
    dial_s = [2.0**stop for stop in near if abs(stop - place / steps) <= TABLE_STOPS + 1e-6]
    if on_dial:
        return [(time_s, nominal_name(time_s, series)) for time_s in dial_s]
    others = [(t, nominal_name(t, series)) for t in dial_s if abs(t / true_s - 1.0) > 1e-4]
    return sorted([*others, (true_s, "")])
