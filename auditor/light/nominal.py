"""Nominal shutter times against the true ones that they stand for.

Dials show rounded figures ("1/30"); shutters step by powers of two: ``t = 2^(-i/3)`` s for third
stops, as apertures do (:mod:`auditor.model.apertures`). 30 s on the dial is 32 s in truth,
0.093 stop more, enough to mislead the measuring of a filter. Names and values after the
third-, half- and full-stop tables that are common practice; bodies differ from the power of
two by up to 0.05 stop.

Standard library only.
"""

from __future__ import annotations

import math
from functools import cache

from auditor.model.apertures import STEPS_A_STOP, Series
from auditor.model.facts import ExposureFacts
from auditor.model.numbers import time_text

_THIRD_TIMES = (
    "30 25 20 15 13 10 8 6 5 4 3.2 2.5 2 1.6 1.3 1 0.8 0.6 0.5 0.4 0.3 1/4 1/5 1/6 1/8 1/10 "
    "1/13 1/15 1/20 1/25 1/30 1/40 1/50 1/60 1/80 1/100 1/125 1/160 1/200 1/250 1/320 1/400 "
    "1/500 1/640 1/800 1/1000 1/1250 1/1600 1/2000 1/2500 1/3200 1/4000 1/5000 1/6400 1/8000 "
    "1/10000 1/12800 1/16000 1/20000 1/25000 1/32000"
)
_HALF_TIMES = (
    "30 20 15 10 8 6 4 3 2 1.5 1 0.7 0.5 1/3 1/4 1/6 1/8 1/10 1/15 1/20 1/30 1/45 1/60 1/90 "
    "1/125 1/180 1/250 1/350 1/500 1/750 1/1000 1/1500 1/2000 1/3000 1/4000 1/6000 1/8000 "
    "1/12000 1/16000 1/24000 1/32000"
)
_ALSO_THIRDS = {"1/1.3": "0.8", "1/1.6": "0.6", "1/3": "0.3"}
"""Other names of third stops, of bodies that show fractions throughout (common practice)."""

_LONGEST_STOP = 5
"""All series begin at 2^5 s, named 30."""

NAME_TOLERANCE = 0.02
"""A written figure is a dial's name when within this share of it, and within one unit of its own
last digit: Exif rounds 1/3 to 0.333, but 30.2 s was timed."""

SAME_SHARE = 0.03
"""A dial's name this near to the true time is as good: 1/125 for 1/128, not 30 s for 32 s."""


DIAL_SLACK = 2.0 ** (1 / 6)
"""Half a step of a dial in thirds of a stop."""

LONGEST_DIAL_S = 32.0 * DIAL_SLACK
"""Half a third-stop over the longest time on a dial (30, truly 32 s); then one counts."""

SHORTEST_DIAL_S = 2.0**-15 / DIAL_SLACK
"""Half a third-stop under the shortest time on any dial (1/32000, truly 1/32768 s)."""


def _seconds(name: str) -> float:
    top, _, bottom = name.partition("/")
    return float(top) / float(bottom or 1)


@cache
def _time_names(series: Series) -> list[str]:
    if series == "half":
        return _HALF_TIMES.split()
    return _THIRD_TIMES.split()[:: 3 if series == "full" else 1]


def nominal_times(series: Series = "third") -> dict[str, float]:
    """Return the dial's names, longest first, with the true time of each in seconds.

    Formula: ``t = 2^(5 - i/n)`` s, n steps a stop, i from 0 (30, truly 32 s).
    """
    steps = STEPS_A_STOP[series]
    return {name: 2.0 ** (_LONGEST_STOP - i / steps) for i, name in enumerate(_time_names(series))}


def true_time(nominal_s: float, series: Series | None = None) -> float:
    """Return the true time of a shutter time as the dial or the file names it.

    Parameters
    ----------
    nominal_s : float
        Seconds, positive.
    series : "third", "half", "full" or None
        The dial's steps. None: third stops, then half stops, whichever holds the name. The
        few names that both hold (20, 10, 6 and their like) are taken as thirds.

    Returns
    -------
    float
        Seconds; ``nominal_s`` itself where no dial bears that name (a timed exposure).
    """
    found = dial_of(nominal_s, series)
    return nominal_s if found is None else nominal_times(found[0])[found[1]]


def dial_of(nominal_s: float, series: Series | None = None) -> tuple[Series, str] | None:
    """Return the dial that bears a shutter time, as :func:`true_time` takes it, and its name.

    None where no dial does.
    """
    orders: tuple[Series, ...] = (series,) if series else ("third", "half")
    for order in orders:
        names = [*_time_names(order), *(_ALSO_THIRDS if order == "third" else ())]
        name = min(names, key=lambda entry: abs(math.log(_seconds(entry) / nominal_s)))
        # as seconds or as "1/x", whichever takes fewer digits
        given, meant = min(
            (nominal_s, _seconds(name)),
            (1.0 / nominal_s, 1.0 / _seconds(name)),
            key=lambda two: _digits(two[0]),
        )
        unit = 10.0 ** (math.floor(math.log10(given)) - _digits(given) + 1)
        if abs(given - meant) < min(0.999 * unit, NAME_TOLERANCE * given):
            return order, _ALSO_THIRDS.get(name, name) if order == "third" else name
    return None


def _digits(value: float) -> int:
    """Return how many digits a figure has, nine at most."""
    return len(f"{value:.8e}".split("e")[0].replace(".", "").rstrip("0"))


def nominal_name(time_s: float, series: Series = "third") -> str:
    """Name the nearest setting of the dial for a true time.

    Returns
    -------
    str
        "1/125 s", "0.8 s", "30 s"; beyond half a step over the longest or under the shortest
        the time itself: "4 min 16 s", as one counts it.
    """
    place = (_LONGEST_STOP - math.log2(time_s)) * STEPS_A_STOP[series]
    names = _time_names(series)
    if not -0.5 <= place <= len(names) - 0.5:
        return time_text(time_s)
    return names[min(max(0, round(place)), len(names) - 1)] + " s"


def dial_text(exposure: ExposureFacts) -> str:
    """Say how long the shutter stood open where the true time counts: ``30 s (32 s true)``.

    Returns
    -------
    str
        The time as the camera calls it; the true one with it where they differ by more than
        :data:`SAME_SHARE` of it. An en dash where neither is known.
    """
    true_s = exposure.time_s
    named_s = exposure.nominal_time_s or true_s
    if named_s is None or true_s is None or abs(named_s / true_s - 1.0) <= SAME_SHARE:
        return time_text(named_s)
    return f"{time_text(named_s)} ({time_text(true_s)} true)"
