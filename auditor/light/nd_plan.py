"""Plan a shutter time behind filters: what ``auditor nd-time`` prints, as a record.

Standard library only, so that the answer is there at once.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from auditor.light.cautions import LONG_EXPOSURE, LONG_EXPOSURE_AT_DUSK
from auditor.light.filters import (
    MOST_STOPS,
    FilterStrength,
    drifting,
    nearest_marking,
    stacked,
)
from auditor.light.nominal import STEPS_A_STOP, Series, dial_of, nominal_name, true_time
from auditor.light.shutter import parse_shutter
from auditor.model.audit import Marking
from auditor.model.errors import WrongCall
from auditor.model.history import KnownFilter
from auditor.words.nd_plan import answer_text, formula_text, plan_notes, setting_text

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
        Against the shutter asked for, in the steps of the dial that bears it (thirds where
        none does): positive is longer.
    metered : str
        Name on that dial of the unfiltered shutter.
    metered_s : float
        Its true time.
    time_s : float or None
        Behind the filters, drift allowed for; None when the light falls too fast.
    setting : str
        What to do: "set 1/8 s", or "count 4 min 16 s" with the shutter held open.
    """

    offset_stops: float
    metered: str
    metered_s: float
    time_s: float | None
    setting: str
    asked: bool = False


@dataclass(frozen=True, slots=True)
class NdPlan:
    """A shutter time behind filters.

    Parameters
    ----------
    shutter_text : str
        As it was written.
    nominal_s, true_s : float
        As written, in seconds; as the shutter truly runs.
    parts : tuple of str
        Each filter in words, in the order given.
    steady_s : float
        Behind the filters in steady light.
    time_s : float or None
        With the drift allowed for; None when the light falls too fast to be caught up.
    least_s, most_s : float or None
        The same for a filter one spread thinner and denser, where the history knows it.
    answer : str
        The result in one sentence.
    exact : bool
        The shutter time was taken as written.
    """

    shutter_text: str
    nominal_s: float
    true_s: float
    strength: FilterStrength
    marking: Marking
    parts: tuple[str, ...]
    drift_stops_per_min: float
    steady_s: float
    time_s: float | None
    short_stops: float
    least_s: float | None
    most_s: float | None
    answer: str
    rows: tuple[NdRow, ...]
    formula: str
    notes: tuple[str, ...]
    cautions: tuple[str, ...]
    exact: bool = False


@dataclass(frozen=True, slots=True)
class _Stack:
    strength: FilterStrength
    parts: tuple[str, ...]
    known: tuple[KnownFilter, ...]

    @property
    def spread_stops(self) -> float:
        return math.hypot(*(known.spread_stops for known in self.known)) if self.known else 0.0


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
        Names of filters that the history knows, taken at their measured density.
    known : sequence of KnownFilter
        The history's filters.
    exact : bool
        Take the shutter time as written instead of as the dial's name of a power of two.

    Raises
    ------
    WrongCall
        A figure or a name cannot be, or no filter is given; the message says what to write.
    """
    _check_drift(drift_stops_per_min)
    text = shutter if isinstance(shutter, str) else f"{shutter:.9f}".rstrip("0").rstrip(".")
    stack = _stack(stops, densities, factors, [find_filter(name, known) for name in filters])
    return _planned(text, stack, drift_stops_per_min, exact=exact)


def _planned(shutter: str, stack: _Stack, drift: float, *, exact: bool) -> NdPlan:
    nominal_s = parse_shutter(shutter)
    true_s = nominal_s if exact else true_time(nominal_s)
    steady_s = stack.strength.behind(true_s)
    exposed = drifting(steady_s, drift)
    least_s, most_s = _span(stack, steady_s, drift)
    dial = dial_of(nominal_s)
    series: Series = "third" if dial is None else dial[0]
    return NdPlan(
        shutter_text=shutter,
        nominal_s=nominal_s,
        true_s=true_s,
        strength=stack.strength,
        marking=nearest_marking(stack.strength.stops),
        parts=stack.parts,
        drift_stops_per_min=drift,
        steady_s=steady_s,
        time_s=exposed.time_s,
        short_stops=exposed.short_stops,
        least_s=least_s,
        most_s=most_s,
        answer=answer_text(exposed.time_s, exposed.short_stops, stack.strength, series),
        rows=_rows(true_s, stack.strength, drift, series),
        formula=formula_text(true_s, stack.strength, steady_s, drift),
        notes=plan_notes(nominal_s, true_s, exposed.time_s, stack.known, drift),
        cautions=LONG_EXPOSURE_AT_DUSK if drift < 0 else LONG_EXPOSURE,
        exact=exact,
    )


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


def _check_drift(drift: float) -> None:
    if not (math.isfinite(drift) and abs(drift) <= MOST_DRIFT):
        raise WrongCall(
            f"A drift of {drift:g} stops a minute cannot be. Dusk falls by a tenth to half a "
            "stop a minute: --drift -0.2 for falling light, --drift 0.2 for rising light."
        )


def _stack(
    stops: Sequence[float],
    densities: Sequence[float],
    factors: Sequence[float],
    known: Sequence[KnownFilter],
) -> _Stack:
    named = [(FilterStrength.from_stops(value), f"{value:g} stops") for value in stops]
    named += [(FilterStrength.from_density(value), f"density {value:g}") for value in densities]
    named += [(FilterStrength.from_factor(value), f"factor {value:g}") for value in factors]
    named += [
        (FilterStrength.from_stops(max(0.0, entry.stops)), f"{entry.name} (measured)")
        for entry in known
    ]
    if not named:
        raise WrongCall(
            "Say which filter: --stops 6, --density 1.8, --factor 64 or --filter NAME; "
            "repeat them for stacked filters."
        )
    total = stacked(strength for strength, _ in named)
    if total.stops > MOST_STOPS:
        raise WrongCall(
            f"These filters stacked would hold back {total.stops:g} stops; no more than "
            f"{MOST_STOPS:.0f} can be. Leave out --stops, --density or --factor given too often."
        )
    return _Stack(total, tuple(text for _, text in named), tuple(known))


def _span(stack: _Stack, steady_s: float, drift: float) -> tuple[float | None, float | None]:
    """Return the times for a stack one spread thinner and one denser."""
    if stack.spread_stops == 0.0:
        return None, None
    ratio = 2.0**stack.spread_stops
    return drifting(steady_s / ratio, drift).time_s, drifting(steady_s * ratio, drift).time_s


def _rows(
    true_s: float, strength: FilterStrength, drift: float, series: Series
) -> tuple[NdRow, ...]:
    steps = STEPS_A_STOP[series]
    places = range(-TABLE_STOPS * steps, TABLE_STOPS * steps + 1)
    return tuple(_row(true_s, place / steps, strength, drift, series) for place in places)


def _row(
    true_s: float, offset_stops: float, strength: FilterStrength, drift: float, series: Series
) -> NdRow:
    metered_s = true_s * 2.0**offset_stops
    time_s = drifting(strength.behind(metered_s), drift).time_s
    return NdRow(
        offset_stops=offset_stops,
        metered=nominal_name(metered_s, series),
        metered_s=metered_s,
        time_s=time_s,
        setting=setting_text(time_s, series),
        asked=offset_stops == 0,
    )
