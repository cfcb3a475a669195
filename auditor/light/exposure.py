"""Exposure arithmetic: shutter times as written, exposure value, differences in stops, the light.

``EV100 = log2(N²/t) - log2(S/100)``; at ISO 100, f/1 and 1 s it is 0. Standard library only.
"""

from __future__ import annotations

import math
import re

from auditor.model.errors import WrongCall
from auditor.model.facts import ExposureFacts

DAY_S = 86400.0
"""Nobody exposes for longer."""

SHORTEST_S = 1.0e-6

_UNITS = {
    "": 1.0, "s": 1.0, "sec": 1.0, '"': 1.0, "''": 1.0,
    "m": 60.0, "min": 60.0, "'": 60.0, "h": 3600.0,
}  # fmt: skip
_TYPOGRAPHIC = str.maketrans({"″": '"', "”": '"', "“": '"', "′": "'", "’": "'", "‘": "'", ",": "."})
_FRACTION = re.compile(r"(\d{1,4}(?:\.\d{1,6})?)/(\d{1,9}(?:\.\d{1,6})?)(?:s|sec)?", re.ASCII)
_PART = re.compile(r"(\d{1,9}(?:\.\d{0,9})?|\.\d{1,9})(min|sec|''|[smh'\"]?)", re.ASCII)


def parse_shutter(text: str) -> float:
    """Return the seconds that a written shutter time stands for, as written (not the true ones).

    Parameters
    ----------
    text : str
        A fraction of a second, seconds, or hours, minutes and seconds in that order; a comma
        counts as a decimal point, typographic primes as plain ones.

    Raises
    ------
    WrongCall
        It cannot be understood, or is no time that a shutter could stand open.
    """
    tidy = text.translate(_TYPOGRAPHIC).lower().replace(" ", "")
    fraction = _FRACTION.fullmatch(tidy)
    if fraction:
        seconds = float(fraction[1]) / float(fraction[2]) if float(fraction[2]) else None
    else:
        seconds = _add_parts(tidy)
    if seconds is None or not SHORTEST_S <= seconds <= DAY_S:
        raise WrongCall(
            f"{text[:40]!r} is no shutter time. Write the unfiltered shutter time as 1/30, 0.5, 4, "
            '4s, 30", 1\'30", 1m30s, 2min or 1h; it must lie between a millionth of a second and '
            "a day."
        )
    return seconds


def _add_parts(tidy: str) -> float | None:
    """Add up "1h2m3s": units fall; seconds may go unnamed, not straight after hours."""
    total, place, smallest = 0.0, 0, float("inf")
    while place < len(tidy):
        part = _PART.match(tidy, place)
        if part is None:
            return None
        unit = _UNITS[part[2]]
        unclear = not part[2] and (part.end() < len(tidy) or smallest == _UNITS["h"])
        if unit >= smallest or unclear:
            return None
        total, place, smallest = total + float(part[1]) * unit, part.end(), unit
    return total if tidy else None


GREY_SHARE = 0.18 / math.sqrt(2.0)
"""Where a metered 18 % grey lies, as a share of saturation: ISO 12232, saturation-based speed,
which keeps half a stop above a 100 % reflector."""


def ev100(time_s: float, f_number: float, iso: float = 100.0) -> float:
    """Return the exposure value at ISO 100, ``log2(N²/t) - log2(ISO/100)``.

    Parameters
    ----------
    time_s, f_number, iso : float
        All positive.

    Raises
    ------
    ValueError
        One of them is not.
    """
    if min(time_s, f_number, iso) <= 0:
        raise ValueError("time, f-number and ISO speed must be positive")
    return math.log2(f_number**2 / time_s) - math.log2(iso / 100.0)


def exposure_difference_stops(
    long: ExposureFacts, short: ExposureFacts, *, absent_is_same: bool = False
) -> float | None:
    """Return by how many stops more light the settings of ``long`` record than those of ``short``.

    Formula: ``log2(t_long/t_short) + 2 log2(N_short/N_long) + log2(ISO_long/ISO_short)``, with
    the true shutter times that the records hold and the true f-numbers of nominal ones (11 is
    11.31).

    Parameters
    ----------
    absent_is_same : bool
        Take an f-number or ISO speed that both lack as unchanged (a lens without contacts).

    Returns
    -------
    float or None
        None where a part is absent from one of them, or from both without leave.
    """
    parts = (
        _ratio_stops(long.time_s, short.time_s, 1.0, absent_is_same=False),
        _ratio_stops(short.true_f_number, long.true_f_number, 2.0, absent_is_same=absent_is_same),
        _ratio_stops(long.true_iso, short.true_iso, 1.0, absent_is_same=absent_is_same),
    )
    known = [part for part in parts if part is not None]
    return sum(known) if len(known) == len(parts) else None


def _ratio_stops(
    upper: float | None, lower: float | None, weight: float, *, absent_is_same: bool
) -> float | None:
    if upper is None and lower is None:
        return 0.0 if absent_is_same else None
    if upper is None or lower is None or min(upper, lower) <= 0:
        return None
    return weight * math.log2(upper / lower)


def scene_ev100(signal_over_saturation: float, exposure: ExposureFacts) -> float | None:
    """Return the exposure value that would have placed this signal at a metered grey.

    Formula: ``EV100(settings) + log2(signal share / grey share)``.

    Parameters
    ----------
    signal_over_saturation : float
        Signal (black off) over saturation (black off), of green.
    exposure : ExposureFacts
        Bodies rate their ISO speeds differently, so the absolute value is good to about a stop;
        differences between frames of one body do not depend on it.

    Returns
    -------
    float or None
        None where the settings are incomplete or there is no signal.
    """
    settings = exposure.ev100
    if settings is None or signal_over_saturation <= 0:
        return None
    return settings + math.log2(signal_over_saturation / GREY_SHARE)
