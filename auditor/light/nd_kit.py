"""All filters on hand at a glance: metered times against each filter and each useful stack.

Standard library only, so that the answer is there at once.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from string import ascii_uppercase

from auditor.light.exposure import DAY_S
from auditor.light.filters import drifting
from auditor.light.nd_plan import OwnFilter, check_drift, marked_filters, own_filters
from auditor.light.nominal import nominal_name
from auditor.model.errors import WrongCall
from auditor.model.history import KnownFilter

FASTEST_STOP, SLOWEST_STOP = -9, 3
"""Metered from 1/500 (truly 2^-9) to 8 s, in full stops."""

MOST_FILTERS, MOST_COLUMNS = 8, 8
LEAST_FILTER_STOPS = 0.5
"""What is less (a clear or a polarising filter turned aside) takes no column."""

APART_STOPS = 0.7
"""A stack nearer than this to a filter or another stack tells nothing new."""

MOST_STACK_STOPS = 20.0
"""A stack beyond this turns 1/500 into more than half an hour."""


@dataclass(frozen=True, slots=True)
class KitColumn:
    """One filter, or two stacked.

    Parameters
    ----------
    mark : str
        "A", or "A+B" for a stack.
    name : str
        The filter's name; empty for a stack.
    spread_stops : float
        By how much one measured pair scatters; 0 where it was not measured.
    measured : bool
        The strength comes from the history, not from a marking.
    """

    mark: str
    name: str
    stops: float
    spread_stops: float
    measured: bool


@dataclass(frozen=True, slots=True)
class KitRow:
    """One metered time: its name, and the time behind each column (None: none will do)."""

    metered: str
    times_s: tuple[float | None, ...]


@dataclass(frozen=True, slots=True)
class Kit:
    """The whole table.

    Parameters
    ----------
    left_out : int
        Stacks, and filters beyond the first eight, for which there was no room.
    """

    columns: tuple[KitColumn, ...]
    rows: tuple[KitRow, ...]
    drift_stops_per_min: float
    left_out: int
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()

    @property
    def longest_s(self) -> float:
        """The longest time of the table."""
        return max((time_s or 0.0 for row in self.rows for time_s in row.times_s), default=0.0)


def on_hand(
    filters: Sequence[str],
    known: Sequence[KnownFilter],
    stops: Sequence[float] = (),
    densities: Sequence[float] = (),
    factors: Sequence[float] = (),
) -> list[OwnFilter]:
    """Return the filters given, thinnest first; where none is, those of the history."""
    own = own_filters(filters, known) + marked_filters(stops, densities, factors)
    return sorted(own or map(OwnFilter.of, known), key=lambda entry: entry.stops)


def plan_kit(
    *,
    filters: Sequence[str] = (),
    known: Sequence[KnownFilter] = (),
    stops: Sequence[float] = (),
    densities: Sequence[float] = (),
    factors: Sequence[float] = (),
    drift_stops_per_min: float = 0.0,
) -> Kit:
    """Plan the times behind all filters on hand and their useful stacks of two.

    Parameters
    ----------
    filters : sequence of str
        Names of filters that the history knows, or "NAME=STOPS"; none takes all that it knows.
    known : sequence of KnownFilter
        The history's filters.
    stops, densities, factors : sequences of float
        Further filters by any of their three figures.
    drift_stops_per_min : float
        How the light changes meanwhile; negative: it falls.

    Returns
    -------
    Kit
        A column a filter or stack, a row a metered time; show its cautions.

    Raises
    ------
    WrongCall
        There is no filter, or a name or figure cannot be.

    Examples
    --------
    >>> from auditor.api import nd_kit
    >>> [column.mark for column in nd_kit(filters=["six=6", "big=10"]).columns]
    ['A', 'B', 'A+B']
    """
    check_drift(drift_stops_per_min)
    own = on_hand(filters, known, stops, densities, factors)
    own = [entry for entry in own if entry.stops >= LEAST_FILTER_STOPS]
    if not own:
        raise WrongCall(
            "The history knows no filter yet. Name yours: --kit --filter six=6.2 --filter big=9.8."
        )
    singles = [
        KitColumn(mark, entry.name, entry.stops, entry.spread_stops, entry.known is not None)
        for mark, entry in zip(ascii_uppercase, own[:MOST_FILTERS], strict=False)
    ]
    pairs = [
        KitColumn(
            f"{one.mark}+{other.mark}", "", one.stops + other.stops,
            math.hypot(one.spread_stops, other.spread_stops), one.measured and other.measured,
        )
        for one, other in combinations(singles, 2)
    ]  # fmt: skip
    stacks: list[KitColumn] = []  # with a strength of their own, thinnest first
    for pair in sorted(pairs, key=lambda pair: pair.stops):
        apart = all(abs(pair.stops - one.stops) >= APART_STOPS for one in (*singles, *stacks))
        if pair.stops <= MOST_STACK_STOPS and apart:
            stacks.append(pair)
    columns = [*singles, *stacks][:MOST_COLUMNS]
    rows = []
    for metered_s in (2.0**stop for stop in range(FASTEST_STOP, SLOWEST_STOP + 1)):
        behind = [metered_s * 2.0**column.stops for column in columns]
        found = [drifting(steady_s, drift_stops_per_min).time_s for steady_s in behind]
        times_s = tuple(None if time_s is None or time_s > DAY_S else time_s for time_s in found)
        rows.append(KitRow(nominal_name(metered_s, "full"), times_s))
    return Kit(
        columns=tuple(columns),
        rows=tuple(rows),
        drift_stops_per_min=drift_stops_per_min,
        left_out=len(own) + len(stacks) - len(columns),
    )
