"""The reverse question: which filter and which f-number give the shutter time that is wanted.

Standard library only, so that the answer is there at once.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import chain, combinations

from auditor.light.exposure import parse_shutter
from auditor.light.filters import drifting, steady_equivalent_s
from auditor.light.nd_kit import on_hand
from auditor.light.nd_plan import OwnFilter, check_drift, is_timed
from auditor.light.nominal import true_time
from auditor.model.apertures import nominal_f_numbers, true_f_number
from auditor.model.errors import WrongCall
from auditor.model.history import KnownFilter

USUAL_FILTERS = (OwnFilter("3 stops", 3.0), OwnFilter("6 stops", 6.0), OwnFilter("10 stops", 10.0),
                 OwnFilter("15 stops", 15.0))  # fmt: skip
"""Sold everywhere; taken where nothing is known of the filters on hand."""

WIDEST_F, NARROWEST_F = 2.8, 16.0
"""Between these most lenses have their say; beyond f/16 diffraction softens (common practice)."""

LOWEST_ISO, HIGHEST_ISO = 100.0, 1600.0
FREE_STOPS = 2.0
"""Without the meter's f-number no more is asked of the aperture than this, either way."""

MOST_MISSED_STOPS = 1.0 / 3.0
MOST_WAYS = 6
MOST_WORSE = 2.0
"""A way that costs so much more than the best is none to offer: f/2.8 where f/16 will do."""

ISO_COST, FILTER_COST = 2.0, 0.25
"""What a stop by the ISO, and a filter, count against a stop by the aperture."""


@dataclass(frozen=True, slots=True)
class WantedWay:
    """One way to the time wanted.

    Parameters
    ----------
    held : tuple of OwnFilter
        The filters; empty for none.
    stops : float
        What they measure together.
    close_stops : float
        How far the aperture closes from the meter's; negative: opens.
    f_number : str or None
        The aperture to set; None where the meter's was not told.
    iso : int or None
        The ISO to set; None where the meter's was not told.
    time_s : float
        The time that these settings ask for, drift allowed for.
    filters : tuple of str
        Each filter in words.
    setting : str
        "Bulb 1 min 2 s", or "set 30 s".
    """

    held: tuple[OwnFilter, ...]
    stops: float
    close_stops: float
    f_number: str | None
    iso: int | None
    time_s: float
    cost: float = 0.0
    filters: tuple[str, ...] = ()
    setting: str = ""


@dataclass(frozen=True, slots=True)
class WantPlan:
    """Ways to a shutter time, the one that changes least first; none where none will do.

    Parameters
    ----------
    usual : bool
        No filter on hand is known: the strengths are those that are sold everywhere.
    """

    wanted_s: float
    metered_s: float
    needed_stops: float
    ways: tuple[WantedWay, ...]
    drift_stops_per_min: float = 0.0
    usual: bool = False
    answer: str = ""
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class _Meter:
    """The meter's settings in thirds of a stop, and how far each may move: (least, most)."""

    time_s: float
    f_number: float | None
    iso: float | None

    def aperture_thirds(self) -> tuple[int, int]:
        if self.f_number is None:
            return -round(3 * FREE_STOPS), round(3 * FREE_STOPS)
        now = _f_place(self.f_number)
        return min(0, _f_place(WIDEST_F) - now), max(0, _f_place(NARROWEST_F) - now)

    def iso_thirds(self) -> tuple[int, int]:
        """How far the ISO may go, as thirds by which the time grows: lowering it is positive."""
        if self.iso is None:
            return 0, 0
        now = round(3 * math.log2(self.iso / 100.0))
        highest, lowest = (round(3 * math.log2(iso / 100.0)) for iso in (HIGHEST_ISO, LOWEST_ISO))
        return min(0, now - highest), max(0, now - lowest)


def _f_place(f_number: float) -> int:
    return round(6.0 * math.log2(true_f_number(f_number)))


def plan_wanted_time(
    wanted: str,
    shutter: str,
    *,
    f_number: float | None = None,
    iso: float | None = None,
    filters: Sequence[str] = (),
    known: Sequence[KnownFilter] = (),
    stops: Sequence[float] = (),
    densities: Sequence[float] = (),
    factors: Sequence[float] = (),
    drift_stops_per_min: float = 0.0,
    exact: bool = False,
) -> WantPlan:
    """Find which filters, f-number and ISO turn a metered time into the one wanted.

    Parameters
    ----------
    wanted, shutter : str
        The time wanted, taken as written; the unfiltered time as metered.
    f_number, iso : float, optional
        The meter's.
    filters, known, stops, densities, factors
        The filters on hand, as :func:`~auditor.light.nd_kit.plan_kit` takes them; where there are
        none, the strengths that are sold everywhere.
    drift_stops_per_min : float
        How the light changes meanwhile; negative: it falls.
    exact : bool
        Take the metered time as written instead of as the dial's name of a power of two.

    Returns
    -------
    WantPlan
        The ways to it, the best first; show its cautions.

    Raises
    ------
    WrongCall
        A figure or a name cannot be.

    Examples
    --------
    >>> from auditor.api import nd_want
    >>> nd_want("64", "1/15", stops=[10]).needed_stops
    10.0
    """
    check_drift(drift_stops_per_min)
    wanted_s, nominal_s = parse_shutter(wanted), parse_shutter(shutter)
    metered_s = nominal_s if exact or is_timed(shutter) else true_time(nominal_s)
    if f_number is not None and not 0.5 <= f_number <= 128.0:
        raise WrongCall(f"--f {f_number:g} is no f-number, such as --f 11.")
    if iso is not None and not 1.0 <= iso <= 1e7:
        raise WrongCall(f"--iso {iso:g} is no ISO, such as --iso 100.")
    meter = _Meter(metered_s, f_number, iso)
    own = on_hand(filters, known, stops, densities, factors)
    needed = math.log2(steady_equivalent_s(wanted_s, drift_stops_per_min) / metered_s)
    sets = chain([()], *(combinations(own or USUAL_FILTERS, count) for count in (1, 2)))
    found = sorted(
        (way for held in sets for way in _ways(held, needed, meter, drift_stops_per_min)),
        key=lambda way: way.cost,
    )
    offered = [way for way in found if way.cost - found[0].cost <= MOST_WORSE]
    return WantPlan(
        wanted_s=wanted_s,
        metered_s=metered_s,
        needed_stops=needed,
        ways=tuple(offered[:MOST_WAYS]),
        drift_stops_per_min=drift_stops_per_min,
        usual=not own,
    )


def _ways(
    held: Sequence[OwnFilter], needed: float, meter: _Meter, drift: float
) -> Iterator[WantedWay]:
    """Yield the way that these filters offer, if any: aperture first, then the ISO."""
    stops = sum(entry.stops for entry in held)
    thirds = round(3.0 * (needed - stops))
    by_aperture = _within(thirds, meter.aperture_thirds())
    by_iso = _within(thirds - by_aperture, meter.iso_thirds())
    missed = needed - stops - (by_aperture + by_iso) / 3.0
    time_s = drifting(meter.time_s * 2.0 ** (needed - missed), drift).time_s
    if abs(missed) > MOST_MISSED_STOPS or time_s is None:
        return
    f_number = None if meter.f_number is None else f"{meter.f_number:g}"
    if meter.f_number is not None and by_aperture:
        names = dict(enumerate(nominal_f_numbers()))
        f_number = names.get(_f_place(meter.f_number) + by_aperture, f_number)
    iso = None if meter.iso is None else round(meter.iso)
    if meter.iso is not None and by_iso:
        place = round(3 * math.log2(meter.iso / 100.0)) - by_iso
        iso = round((100.0, 125.0, 160.0)[place % 3] * 2.0 ** (place // 3))
        iso = {1280: 1250, 2560: 2500, 5120: 5000, 10240: 10000}.get(iso, iso)  # as bodies say
    yield WantedWay(
        held=tuple(held),
        stops=stops,
        close_stops=by_aperture / 3.0,
        f_number=f_number,
        iso=iso,
        time_s=time_s,
        cost=abs(by_aperture / 3.0) + ISO_COST * abs(by_iso / 3.0) + abs(missed)
        + FILTER_COST * len(held),
    )  # fmt: skip


def _within(value: int, limits: tuple[int, int]) -> int:
    return max(limits[0], min(limits[1], value))
